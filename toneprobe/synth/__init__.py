"""Plucks from a physical string model with a known truth, for the demo and for tests.

From top to bottom: a `material` and a harp's `scale` make a `string_model` over a `soundboard`; `faults` spoil it; `truth` says what
its partials are; a `pluck` sets them `ringing`; in a `sweep` the neighbours answer in `sympathy` and a `recorder` in a room hears it all.
"""
