"""The thresholds of the verdicts, each with its unit and its source.

Sources: measured, derived, published, common practice, from memory; "set" was chosen here, with what it trades where that is known.
A constant that only one estimate uses is at the head of that file, documented in the same way; it can change a verdict too.

"Noticed" is what a careful listener hears: a change of that size scores 50 if it is beyond doubt.
"Spread" is how far two plucks of one untouched string differ: a starting value that each sweep's own plucks correct.
Log changes are natural logarithms of ratios: 0.29 is a quarter less ring, 0.69 is half.
"""

import math

LEAST_RATE_HZ, MOST_RATE_HZ = 8_000, 192_000  # sample rates of recorders: telephones' to the highest in use (common practice)

# Verdicts
DECIDED = 1.0  # strength of evidence that names a string dead or false: score 50 (set)
WATCHED = 0.75  # strength that puts a string on the watch list: score 37.5 (set)
DECAY_GROSS = math.log(2.0)  # log decay, half the ring: sound is said only where this could hardly have been missed, so where the error is
# below it over the sureness asked and the change below DECAY_NOTICED. At just that error 1 half ring in 20 is still called sound on 47
# strings, 1 in 15 on 22; at two thirds of it 1 in 60 or fewer (derived here, from Student's t with ERROR_FREEDOM)
ASTRAY_GROSS_CENTS = 8.0  # the same for partials (set; on 47 strings it asks for an error of 2.3 cents: 8/(1.1 · 3.14), derived)
ERRORS_TOLD = 2.0  # standard errors after ±, and within which a change means nothing: nineteen in twenty lie within (common practice)

# What a listener notices: size 1
LEAST_RING_NOTICED = 0.75  # share of its decay time that a string may fall to unnoticed: Tolonen & Järveläinen, J. AES 49 (2001)
DECAY_NOTICED = math.log(1.0 / LEAST_RING_NOTICED)  # log of fresh over present decay time (derived)
RING_AND_ALL = 0.12  # log decay by which all partials may have lost more than the lowest and still count for the ring (set: with more a
# fresh sweep in a livelier room makes strings dead, with less a loss of the upper partials alone says nothing)
HIGHS_NOTICED = math.log(1.0 / 0.50)  # log decay of the upper partials alone, of which a listener hears less (derived here)
BRIGHTNESS_NOTICED = math.log(1.0 / 0.75)  # log of fresh over present centroid: beyond what most equal plucks differ by (set)
ASTRAY_NOTICED_CENTS = 2.2  # rms of new deviations; musicians hear 2 to 5 cents (from memory)
STRETCH_NOTICED = 0.18  # |log| of present over fresh B: one gauge step of 10 % in thickness gives 0.19 (B ∝ d², derived)
BEAT_NOTICED_DB = 0.87  # new ripple of the partials, peak to peak: just heard at low rates (published as 5 % of the amplitude either way,
# 20·log10(1.05/0.95); by whom is not on record)
WAVE_NOTICED_CENTS = 8.0  # by which a pitch goes up and down, from lowest to highest: 0.7 % are just heard of a pure tone above 500 Hz that
# does so slowly (Zwicker & Fastl, from memory), which is 12 cents, and musicians hear less (set)
SINKS_CENTS = 5.0  # by which a string glides more than when fresh: musicians notice 2 to 5 (from memory)
PITCH_FALL_CENTS = 8.0  # by which the last pluck lies lower than the first: watched from three quarters of it on, more than takes of 24
# untouched strings by one hand differ by (measured: 5.5 at the most), and more than musicians notice (from memory)

# How sure a sweep must be
FALSE_ALARMS_PER_SWEEP = 0.2  # expected number of healthy strings called dead, and as many called false; the goal is below one of 47 (set:
# with more, more faults are named and more healthy strings are called)
MOST_FALSE_SHARE = 0.01  # share of healthy readings called dead, and as many false, where few strings were plucked again: the goal for all
# readings. So twenty strings plucked again in a year, a few at a time, are wronged no more often than the harp in one sweep; for one
# string alone, of which 0.2 may be wrong, a change of 0.87 errors would be beyond doubt (derived)
MOST_BAD_SHARE = 1.0 / 3.0  # share of the strings that may be bad while the common causes are still found (set: a median bears up to half)
ERROR_FREEDOM = 12.0  # degrees of freedom of the errors themselves (derived here: two or three plucks, pooled)
ASTRAY_CAUTION = 0.28  # factor on the sureness asked of the χ² of partials: their spreads are set on the cautious side, and the sum lacks
# its farthest member and is cut (measured)
ASTRAY_RMS_CAUTION = 1.1  # factor on that asked of their rms over its own error (set)
UNCONFIRMED_ASTRAY = 1.15  # factor on both where one side rests on a single pluck (measured)
STRETCH_CAUTION = 0.6  # factor on that asked of another stiffness: paired partials and both values of B agree, several plucks a side by
# like hands (measured)
HIGHS_CAUTION = 1.15  # factor on that asked of the upper partials' decay, which sum tones, noise and moving gain bend most (measured)
SINKS_CAUTION = 1.3  # factor on that asked of a log glide, which so is watched from about three errors on (measured: 24 real strings taken
# twice by one hand up to 2.4, healthy strings of another string model up to 2.8, those that sink by 25 cents from 3.2 on)
LIKE_HANDS = 0.5  # log ratio of pitch glides up to which two sweeps were plucked alike (measured: takes by one hand 0.2, soft and firm 1.3)
ONE_PLUCK = 1.0  # 1/plucks now + 1/plucks fresh above which one side rests on a single pluck: two a side make 1 at most (derived)
LEAST_STRETCH_PAIRS = 7  # pairs of partials from which another string can be told from mistaken partials (set)
COMMON_BEAT_PARTIALS = 3  # partials that have begun to beat at one rate, from which it is doubtful whether a string is true (measured)

# The greatest strength of evidence, where something else may be the cause: below DECIDED it makes watch, below WATCHED unsure
BRIGHTNESS_SAY = 0.85  # strength of evidence of brightness alone (set: it scatters by a month's ageing and more from pluck to pluck)
ONE_ASTRAY_SAY = 0.85  # strength of evidence of a single partial astray, which may be a mistaken one (set)
LINES_BESIDE_SAY = 0.85  # strength of evidence of partials astray that one pluck tells among other lines as loud: which of them is taken
# flips by chance (set)
SUM_TONES_SAY = 0.8  # strength of evidence of the lesser of two stiffnesses where one pluck tells it: the sum tones of a firm pluck lie at
# exact multiples, as of B = 0 (set; one real firm pluck gave 1.3, 3.6 and 7.0e-4 as it was cut and tuned)
RINGLESS_SAY = 0.82  # strength of evidence of partials astray or another stiffness where half the ring is gone: what sounds at their places
# may be the neighbours' answers, and the lost ring decides (set: both together lie below DECIDED)
ONE_PLUCK_RIPPLE_SAY = 0.85  # strength of evidence of a wavering that one pluck tells (set)
COMMON_BEAT_SAY, COMMON_BEAT_DOUBTED = 0.8, 0.7  # strength of evidence of more than COMMON_BEAT_PARTIALS, and of just so many (set)
WAVE_SAY = 0.85  # strength of evidence of a pitch that goes up and down where its plucks do not confirm it (set)
PITCH_WALK_SAY = 0.85  # strength of evidence of a pitch that wanders: the harp may do it (set)
SINKS_SAY = 0.85  # strength of evidence of a string that sinks: a harder pluck of this one string does it too (set)
PITCH_FALL_SAY = 0.85  # strength of evidence of a pitch that falls from pluck to pluck: what holds the string may be mended (set)
BETWEEN_NOTCHES_SAY = 0.85  # strength of evidence of a string that climbed: its mechanism may stand between two notches (set)
OTHER_INSTRUMENT_SAY = 0.74  # strength of evidence of a false string where another instrument played beside the sweep (set)
CODEC_SAY = 0.8  # strength of evidence of partials astray, another stiffness or an early loss of colour in a recording of few bits: what a
# codec does to a partial it may do in every pluck; two together lie below DECIDED (set)
CODEC_RING_SAY = 0.74  # strength of evidence of a lost ring in such a recording where the string's whole ring shows no loss (measured
# through AMR 12.2 and MP3 32: five of 72 healthy readings had it, none of the nine of halved rings that were named)
ONE_PARTIAL_RING_SAY = 0.8  # strength of evidence of a lost ring that one partial alone tells, the room hiding that of the others: where a
# room's paths cancel, a cent or two of pitch make it die twice as fast, in every pluck; with duller partials still below DECIDED (derived
# here by simulation: of partials that outring a room by 1.3 to 2.2 one in a hundred loses 0.45 and more of its log decay from one pitch to
# the next)
OTHER_PULL_SAY = 0.8  # strength of evidence of a lost ring whose slow ends lost nothing; with duller partials, which another pull makes
# too, still below DECIDED (set; of drawn healthy strings of two planes it holds back 4 of 6, of 48 halved real rings none)

# Where a string stands in pitch
OUT_OF_TUNE_CENTS = 20.0  # off the other strings: far more than a tuned harp's few cents, so worth a word (set)
SLIPPED_CENTS = 35.0  # so far off, tension and with it B are another by 4 % (T ∝ f², derived): from here on that is said
TENSION_DOUBT = 1.0  # standard deviation of the log B that a moved pitch explains by tension, as a factor on it: as much the other way if
# a lever grips elsewhere and the pin did not move (then B ∝ f²: two of these), and nylon grows stiffer under load, which takes off 0.4
# (derived)
FALLEN_CENTS = 140.0  # so far below the other strings, neither a lever or pedal nor a tuning slip beside it explains it: a semitone and 40
# cents, which `remarks/tuning` takes for one (set)
THUD_STRENGTH = 2.0  # strength of evidence of a string that has fallen so far and lost its ring too: score 100, beyond argument (set)
PITCH_ERRORS = 4.0  # standard errors off the others from which a pitch is taken for the string's: one is known within 1 to 4 cents, two
# that lie 40 apart leave their mean open by 8 (measured)
NEAR_LEVEL_CENTS = 25.0  # so near to the middle string, a string lies where it does: of two groups a semitone apart none does (derived)
WEATHER_CENTS = 4.0  # by which the strings of one material moved otherwise than those of another (set: what musicians notice in octaves)
ONE_STRING_CENTS = 5.6  # the most that the pitches of two takes of an untouched string differ by (measured)

# Spread of one pluck of an untouched string, before a sweep has shown its own
PARTIAL_DECAY_SPREAD = 0.18  # log decay of one partial; two polarisations, 10 to 60 % between takes (measured on a lever harp)
STRING_DECAY_SPREAD = 0.04  # log decay, all partials of a pluck together (measured, tests/benchmarks/takes.py: two takes by a like hand,
# one pluck each, partials paired, 4.5 % median, 17 % in 9 of 10, of which part is the partials' own)
CUT_SHORT_DB = 5.0  # the last of the 30 dB of a fall, which tell little: less than that cut off counts for nothing (measured on 96 real
# plucks, whole and cut after 0.7 to 4.5 s, each against each)
LEAST_GLIDE_CENTS = 2.0  # added to a pitch glide before ratios are taken (set: else two that were hardly heard would seem to differ many
# times; with more, soft and firm plucks look alike)
HAND_CENTS = 1.3  # standard deviation of one partial's cents for each natural log of the glides' ratio (measured: soft against firm)
PARTIAL_LEVEL_SPREAD_DB = 3.0  # level of one partial, pluck to pluck (measured)
TRUE_PARTIALS = 12  # number of the highest of the partials that tell whether a string is true; above, sum tones are easily taken for
# them (set)
RIPPLE_USUAL_DB = 0.3  # new ripple of untouched strings, as `baseline/ripple_change` defines it (measured)
RESOLVED_PERIODS = 50.0  # for which a string must ring, or its partials are not followed (measured on the cut plucks of
# `session/place_spread`: none lost from 46 on)
UNCONFIRMED_LOST = 0.5  # share of a partial that one missing from a single pluck counts: where it was plucked may have silenced it (set)
OUT_OF_REACH_CENTS = 8.0  # what a lost partial counts as: about as far as the series is followed (6 to 9 cents, set)

# Rooms and recordings
ROOM_RING_S = 0.9  # strings that ring less are lengthened by a room of 0.3 to 0.6 s (set: half as long again as such a room)
ROOM_DECAY = 0.15  # log of fresh over present decay time of most strings that ring shorter than a room (set)
HIDDEN_BY_ROOM = 0.6  # share of a half ring's loss below which it is the room that hides it, where it cannot be told (set)
SUPPRESSED_BEND = 0.06  # median bend of a sweep's falls from which noise suppression is likely (measured, as BENDS_APART)
BENDS_APART = 0.05  # by how much that bend must exceed the other sweep's, by a like hand (measured: real harps −0.03 to 0.04 in six rooms
# and noises, by the same hand within 0.03; made-up suppressors 0.06 to 0.14)
LEAST_BENT_STRINGS = 12  # strings from which the median of one sweep says so: the lowest bend more by themselves (measured: a lever harp's
# lowest four 0.06, its lowest eight 0.05, its lowest twelve 0.03, alike in each of its takes). Where two sweeps are compared it is not
# asked: the same strings stand on both sides, and bend by themselves in both
LEAST_FALLS = 40  # falls of single partials, whose median bend then errs by 0.015 (set; how that was found is not on record)
LEAST_REACH_HZ = 8000.0  # a recording that carries no more is spoken of, and its partials above are not compared (set)
LEAST_KBIT_S = 56.0  # kbit a second and channel, below which a codec leaves out or makes up what is quiet (measured on 48 real plucks
# through AAC, Opus, MP3 and Vorbis: partials 20 to 30 dB down are 0.6 to 4 cents off for 9 in 10 from 12 to 32 kbit/s, 0.3 to 0.5 at 64)
LOUD_IN_CODEC_DB = -25.0  # of a string's strongest partial: above this a partial comes through even then (measured on the same: one in
# twenty is lost, in AAC 24 and Opus 12 up to one in twelve, its frequency within 1 to 2.3 cents for 9 in 10)
CODEC_DECAY_SPREAD = 0.1  # standard deviation of such a partial's log decay, in all plucks alike (measured on the same: 9 in 10 within 0.02
# to 0.1 down to −12 dB, within 0.1 to 0.2 down to −25)
