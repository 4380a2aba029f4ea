"""Plucks from a physical string model with a known truth, for the demo and for tests.

From top to bottom: a `material` and a harp's `scale` make a `string_model` over a `soundboard`; `truth` says what its partials are
and `decay_time` how long they ring together; `faults` spoil it; a `pluck` sets them `ringing`; in a `sweep` the neighbours answer in
`sympathy`, and a `recorder` in a room hears it all.
"""
