"""What a sweep says of each string against its own fresh baseline: scores, verdicts, reasons.

From top to bottom: the `context` says what two recordings can be compared in; the `sweep_noise` of the whole harp says how far untouched
strings scatter; each string's change becomes `evidence`, evidence becomes a `dead_score` and a `false_score`, `without_baseline` notes
strings that have no baseline but stand out, the `common_cause` stands for the whole sweep (`common_words` say it), and a `judgement` puts
it into `reasons` and `next_steps`. This front has the `verdict` alone: whoever shows one loads nothing that judges.
"""

from toneprobe.condition.verdict import CHANGES, SILENT, VERDICTS, Condition
