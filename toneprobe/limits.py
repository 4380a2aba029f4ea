"""The thresholds that verdicts are made by, each with its unit and where it comes from.

Measured, derived, published, common practice or from memory; "set" is what was chosen here, and what it trades is said where that is known.
What belongs to one estimate alone stands with the same words at the head of its file: how it is fitted, of how many partials or strings
it is asked, when one pattern is believed and not another. It can turn a verdict too.

"Noticed" is what a careful listener hears: it sets the size of a change that scores 50 when the measurement leaves no doubt.
"Spread" is what two plucks of one untouched string differ by: a starting value, which each sweep's own plucks then correct.
Log changes are natural logarithms of ratios: 0.29 is a quarter less ring, 0.69 is half.
"""

import math

# What can be measured at all
LEAST_RATE_HZ, MOST_RATE_HZ = 8_000, 192_000  # sample rates of recorders: telephones' to the highest in use (common practice)

# What a listener notices
LEAST_RING_NOTICED = 0.75  # share of its decay time that a string may fall to unnoticed: Tolonen & Järveläinen, J. AES 49 (2001)
DECAY_NOTICED = math.log(1.0 / LEAST_RING_NOTICED)  # log of fresh over present decay time (derived)
RING_AND_ALL = 0.12  # log decay by which all partials may have lost more than the lowest and still tell of the ring (set: with more
# a fresh sweep in a livelier room makes strings dead, with less what only the upper partials lost says nothing)
HIGHS_NOTICED = math.log(1.0 / 0.50)  # the same for the upper partials alone, which a listener hears less of; derived here
BRIGHTNESS_NOTICED = math.log(1.0 / 0.75)  # log of fresh over present centroid: beyond what most equal plucks differ by (set)
ASTRAY_NOTICED_CENTS = 2.2  # rms of new deviations; musicians hear 2 to 5 cents (from memory)
STRETCH_NOTICED = 0.18  # |log| of present over fresh B: one gauge step of 10 % in thickness gives 0.19 (B ∝ d², derived)
BEAT_NOTICED_DB = 0.87  # new ripple in the partials, peak to peak: at low rates just heard (published as 5 % of the amplitude either
# way, 20·log10(1.05/0.95); by whom is not on record)
FALLEN_CENTS = 140.0  # so far below the other strings that neither its lever or pedal explains it nor a tuning slip beside: a
# semitone and 40 cents, as `remarks/tuning` takes for one (set)
OUT_OF_TUNE_CENTS = 20.0  # off the other strings: far more than a tuned harp's few cents, so worth a word (set)
PITCH_ERRORS = 4.0  # standard errors off the others from which on a pitch is held for the string's: one is known within 1 to 4 cents, two
# that lie 40 apart leave their middle open by 8 (measured)
OTHER_NAME_CENTS = 30.0  # so far off in a sweep of a few strings it may be the string a semitone that way: a third of the semitone (set)
LEVER_SEMITONE_CENTS = 10.0  # so near to a whole semitone off, it may be a lever or pedal: levers are regulated within a few cents (set)
THUD_STRENGTH = 2.0  # strength of evidence of a string that has fallen so far and lost its ring too: score 100, beyond argument (set)
SLIPPED_CENTS = 35.0  # so far off that tension, and with it B, is another by 4 % (T ∝ f², derived): from here on that is said
TENSION_DOUBT = 1.0  # of the log B that a moved pitch explains by its tension, as standard deviation: the same the other way were it not
# the pin but a lever that grips elsewhere (then B ∝ f²: two of these), and nylon grows stiffer under load, which takes off 0.4 (derived)

# What a change must be to be judged at all
DECAY_GROSS = math.log(2.0)  # a half ring; a string is called sound only where this could hardly have been missed: that asks for an error
# of it over the sureness asked, and a change below DECAY_NOTICED. At that very error 1 half ring in 20 is still called sound on 47 strings,
# 1 in 15 on 22; at two thirds of it 1 in 60 or fewer (derived here, from Student's t with ERROR_FREEDOM)
ASTRAY_GROSS_CENTS = 8.0  # the same for partials (set; of 47 strings it asks for an error of 2.3 cents: 8/(1.1 · 3.14), derived)

# What is told beside a figure
ERRORS_TOLD = 2.0  # standard errors after ±, and within which a change means nothing: nineteen in twenty lie within (common practice)

# Spread of one pluck of an untouched string, before a sweep has shown its own
PARTIAL_DECAY_SPREAD = 0.18  # log decay of one partial; two polarisations, 10 to 60 % between takes (measured on a lever harp)
STRONGEST_DECAY_SHARE = 0.5  # of that spread, by which a string's strongest partial scatters: it hides its neighbours and the noise …
DECAY_SHARE_DOUBLES_DB = 38.0  # … twice that for a partial so much weaker (measured: 0.07 at the top, 0.17 at −35 dB, 0.21 at −45 dB)
SHOWN_POWER = 1.2  # power of 30 dB over what is shown of its fall, by which a log decay scatters more where neither side shows all of it
# (derived here, two modes of which each pluck wakes another mixture: within a tenth from 27 to 8 dB; measured on 96 real plucks, cut short
# and in noise, the same) …
LEAST_SHOWN_DB = 6.0  # … of no fewer dB (set: nearly no decay is told of less)
CORE_SHARE = 0.5  # of a partial's own variance, which covers its wild tenth; the fit is robust against that (measured)
STRING_DECAY_SPREAD = 0.04  # log decay, all partials of a pluck together (two takes by a like hand, one pluck each, partials paired:
# 4.5 % median, 17 % in 9 of 10, of which part is the partials' own; these and the next from tests/benchmarks/takes.py)
WHOLE_DECAY_SPREAD = 0.2  # log decay time of the string as one figure (measured: 6 and 18 %, soft against firm 17 and 40 %; cautious, as
# other partials may decide in each)
SESSION_DECAY_SPREAD = 0.025  # log decay of a string from one day to another, same room; no figure is published, derived from takes
LESS_HEARD_DECAY = 0.006  # log decay of all partials for each dB less of the fall that noise leaves, for the first part is the steeper
# (measured with the partials' own scatter: 48 real readings of two plucks in six noises, 0.07 rms for 9 dB, 0.08 for 13, 0.14 for 16) …
LESS_HEARD_PARTIAL = 0.025  # … and of a single one (half of them within 0.17 for 8 dB, 0.28 for 17, 0.38 for 22)
CUT_SHORT_DECAY = 0.04  # log decay of all partials for each dB less of the fall that is left because a pluck was cut short …
CUT_SHORT_DB = 5.0  # … but for the last of the 30 dB, which tell little more (measured on 96 real plucks, whole and cut after 0.7 to 4.5 s,
# each against each: where 0.05 to 0.15 is told they err by 0.10 rms, at 0.15 to 0.3 by 0.22, at 0.3 to 0.45 by 0.34, at more by 0.5)
CUT_SHORT_PARTIAL = 0.035  # the same of a single partial, from the first dB on (measured: half within 0.18 for 9 dB, 0.36 for 18)
LEAST_GLIDE_CENTS = 2.0  # added to a pitch glide before ratios are taken (set: or two that were hardly heard would
# seem to differ many times; with more, soft and firm plucks look alike)
HAND_DECAY_SHARE = 0.15  # of the log glide ratio, as standard deviation of a log decay (measured: soft against firm, bass most)
HAND_HIGHS_SHARE = 0.2  # the same for the upper partials, which sum tones feed (measured)
HAND_CENTS = 1.3  # of the log glide ratio, as standard deviation of one partial's cents (measured: soft against firm)
PULL_RIDGE = 2.0  # sum of squared log glides that takes half of the pull's effect on a partial out; soft and firm, twice each: 3 (set)
ALL_OF_PULL = 0.25  # sum of squared log glides where all of it is taken out that a soft and a firm pluck can tell (set)
PLUCKS_PRIOR = 3.0  # degrees of freedom that the usual scatter of a partial weighs against what its own plucks show (set)
PARTIAL_LEVEL_SPREAD_DB = 3.0  # level of one partial, pluck to pluck (measured)
BRIGHTNESS_SPREAD = 0.12  # log centroid of the partials (takes.py: 2.5 % median, 22 % in 9 of 10; soft against firm 7 and 56 %)
ONE_STRING_CENTS = 5.6  # the most that the pitches of two takes of an untouched string differ by (measured)
PARTIAL_PITCH_SPREAD_CENTS = 0.5  # one partial's frequency, proportional part (measured)
PARTIAL_PITCH_SPREAD_HZ = 0.12  # and the part that two polarisations cause (measured), …
PARTIAL_PITCH_SPREAD_TURNS = 0.13  # … or what a pluck cut short leaves, turns in the time it was heard, where that is more (measured:
# partials of 48 real plucks cut after 0.15 to 1.5 s, C#2 to G#6: half within 0.05 turns of the whole pluck's, 9 in 10 within 0.25)
PARTIAL_PITCH_SPREAD_WIDTHS = 0.6  # and the part that goes with the width of its line, decay rate over 2π (measured)
UNCONFIRMED = 2.0  # factor on the variance of a partial found in a single pluck: it may be a mistaken one (measured)
CLEAR_BELOW_HZ = 800.0  # these spreads in cents grow as 1 + pitch over this (measured in the top
# octaves; 2.3 times as large at C6, 3.6 at C7, 4.9 at G7, derived)
SERIES_SPREAD_CENTS = 1.8  # the upper end of the series as a whole, pluck to pluck (measured)
WEAK_FROM_DB, WEAK_DOUBLES_DB = 15.0, 30.0  # weaker partials' frequencies scatter more: twice as much 30 dB further down (measured)
TRUE_PARTIALS = 12  # partials up to this number tell whether a string is true; above, sum tones are easily taken for them (set)
RIPPLE_SEARCHED = 0.65  # factor on the error of the ripple at the surest of many rates (measured: 350 healthy strings below 1.6 errors)
UNCONFIRMED_RIPPLE = 1.7  # factor on that error where a single pluck tells (measured)
RIPPLE_USUAL_DB = 0.3  # new ripple of untouched strings, as baseline.ripple_change defines it (measured)

# A partial that is the string's own: found in every fresh pluck, up to this number, not weaker than this, and standing out
OWN_PARTIALS = 10  # number of the highest (set)
OWN_LEVEL_DB = -35.0  # of the string's strongest (set)
OWN_SNR_DB = 35.0  # over the noise in its own band (set)
RESOLVED_PERIODS = 50.0  # for which a string must ring, or its partials are not followed (measured on the real plucks cut short of
# PARTIAL_PITCH_SPREAD_TURNS: none lost from 46 on)
UNCONFIRMED_LOST = 0.5  # share of a partial that one missing from a single pluck counts: where it was plucked may have silenced it (set)
OUT_OF_REACH_CENTS = 8.0  # what a lost partial counts as: about as far as the series is followed (6 to 9 cents, set)

# How sure a sweep must be
FALSE_ALARMS_PER_SWEEP = 0.2  # expected number among healthy strings, for dead and for false each; below one is asked for over 47 (set:
# with more, more faults are named and more healthy strings are called)
MOST_FALSE_SHARE = 0.01  # of healthy readings called dead, and as many false, where few strings were plucked again: the goal of all
# readings. So twenty strings plucked again in a year, a few at a time, are wronged no more often than the harp in one sweep; of a
# single one alone, of which 0.2 may be wrong, a change of 0.87 errors would be beyond doubt (derived)
MOST_BAD_SHARE = 1.0 / 3.0  # of the strings may be bad while the common causes are still found (set: a middle bears up to half)
ERROR_FREEDOM = 12.0  # degrees of freedom with which the errors themselves are known; derived here: two or three plucks, pooled
ASTRAY_CAUTION = 0.28  # share of the sureness asked that suffices for χ² of partials: their spreads are set on the cautious side, and
# the sum lacks its farthest member and is cut (measured)
ASTRAY_RMS_CAUTION = 1.1  # the same for their rms over its own error (set)
STRETCH_CAUTION = 0.6  # for another stiffness: paired partials and both values of B agree, several plucks a side, like hands (measured)
HIGHS_CAUTION = 1.15  # for the upper partials' decay alone, which sum tones, noise and moving gain bend most (measured)
LIKE_HANDS = 0.5  # log ratio of pitch glides up to which two sweeps were plucked alike (measured: takes by one hand 0.2, soft and firm 1.3)
ASTRAY_CUT = 6.0  # σ² that one partial counts in χ² at most, for it may be a mistaken one (set) …
ASTRAY_SURE_CUT = 8.0  # … σ² of one that can't be: no more, for another hand may move a single low partial of a healthy string by ten
# cents, and no other (string model)
AGREED = 1.0  # σ² by which the plucks of such a partial may contradict each other (set)
ONE_ASTRAY_SAY = 0.85  # strength of evidence that a single partial gone astray can have at most: watch, for it may be mistaken (set)
ONE_PLUCK = 1.0  # 1/plucks now + 1/plucks fresh above which one side rests on a single pluck: two a side make 1 at most (derived)
LEAST_STRETCH_PAIRS = 7  # pairs of partials on which another string can be told from mistaken partials (set)
UNCONFIRMED_ASTRAY = 1.15  # factor on both where one side rests on a single pluck (measured)
DECIDED = 1.0  # strength of evidence that names a string dead or false: score 50 (set)
WATCHED = 0.75  # strength that puts a string on the watch list: score 37.5 (set)
COMMON_BEAT_PARTIALS = 3  # partials that have begun to beat at one rate, from which on it is doubtful whether a string is true (measured)
COMMON_BEAT_SAY, COMMON_BEAT_DOUBTED = 0.8, 0.7  # strength of evidence of more of them, and of just so many: watch, unsure (set)
PITCH_WALK_SAY = 0.85  # strength of evidence that a pitch which wanders can have at most: watch, never false, for the harp may do it (set)
ONE_PLUCK_RIPPLE_SAY = 0.85  # strength of evidence that one pluck of a wavering can have at most: watch, never false (set)
LINES_BESIDE_SAY = 0.85  # strength of evidence that partials astray have at most where one pluck tells of them among other lines as loud:
# watch, never false, for which of them is taken flips by chance (set)
SUM_TONES_SAY = 0.8  # strength of evidence that the lesser of two stiffnesses has at most where one pluck tells it: watch, never false, for
# sum tones of a firm pluck lie at exact multiples, as of B = 0 (set; one real firm pluck gave 1.3, 3.6 and 7.0e-4 as it was cut and tuned)
RINGLESS_SAY = 0.82  # strength of evidence that partials gone astray or another stiffness have at most where half the ring is gone: what
# sounds at their places may be the neighbours' answers, and the lost ring decides (set: both together lie below DECIDED)
SINKS_CENTS = 5.0  # by which a string glides more than when fresh: musicians notice 2 to 5 (from memory)
SINKS_CAUTION = 1.3  # factor on the error of its log glide, which so is watched from about three errors on (measured: 24 real strings taken
# twice by one hand up to 2.4, healthy strings of another string model up to 2.8, those that sink by 25 cents from 3.2 on)
SINKS_SAY = 0.85  # strength of evidence that it can have at most: watch, for a harder pluck of the one string does it too (set)
BETWEEN_NOTCHES_SAY = 0.85  # strength of evidence at most of a string that climbed: watch, never dead or false, for its lever, disc or
# pedal may stand between two notches (set)
OTHER_INSTRUMENT_SAY = 0.74  # strength of evidence of a false string at most where another instrument played beside the sweep: unsure (set)
PITCH_FALL_CENTS = 8.0  # by which a string is lower at its last pluck than at its first: watched from three quarters of it on, above what
# takes of 24 untouched strings by one hand differ by (measured: 5.5 at the most), and more than musicians notice (from memory)
PITCH_FALL_SAY = 0.85  # strength of evidence that it can have at most: watch, for what holds a string may be mended (set)
BRIGHTNESS_SAY = 0.85  # strength of evidence that brightness alone can have at most: watch, never dead (set: it scatters by a
# month's ageing and more from pluck to pluck)

NOISE_CAUTION = 0.05  # what is added to the factor on all errors for each dB by which most plucks of a sweep stand less out of the noise …
# … than this: fewer partials are left, and what they err by is less well known (set on real plucks in noise)
CLEAR_SNR_DB = 42.0  # median over the plucks of a sweep (set on the same)

SUPPRESSED_BEND = 0.06  # median bend of a sweep's falls from which on noise suppression is likely …
BENDS_APART = 0.05  # … and by how much that bend then exceeds the other sweep's, by a like hand (measured: real harps −0.03 to 0.04 in six
# rooms and noises, by the same hand within 0.03; made-up suppressors 0.06 to 0.14)
LEAST_BENT_STRINGS = 12  # strings from which on their median says so: the lowest bend more by themselves (measured: a lever harp's
# lowest four 0.06, its lowest eight 0.05, its lowest twelve 0.03, alike in each of its takes). Where two sweeps are compared it is not
# asked: the same strings stand on both sides, and bend by themselves in both
LEAST_FALLS = 40  # falls of single partials, whose median bend then errs by 0.015 (set; how that was found is not on record)
GAIN_LEAST_STRINGS = 12  # strings that tilt, from which on what most of them do tells of a gain: of so many that tilt by chance as many as
# GAIN_SHARE_NOW go one way in 1 sweep of 14, as GAIN_SHARE_FRESH in 1 of 300, before all else is asked (derived: 299 and 13 of 2¹²)
GAIN_TILT = 0.11  # log change of the decay rate per log of that rate, median over strings, from which on a gain may have moved on one side
# (measured: made-up gains, alone and with noise suppression, 0.13 to 0.27; the same real strings untouched 0.05, in rooms 0.05 to 0.21) …
GAIN_SLOW = 0.2  # … where slow partials then ring longer on that side by this in their log, and by this more than fast ones (measured: 0.28
# to 0.49, and 0.28 to 0.67; untouched 0.04, in rooms 0.04, of a set that aged 0.53 but then 0.04 more than fast ones) …
GAIN_ERRORS = 2.0  # … and by so many of its own errors (set) …
GAIN_SHARE_NOW, GAIN_SHARE_FRESH = 0.75, 0.9  # … in so many of the strings (measured on the same: 0.96 to all; drawn strings 0.83 to all,
# but 0.88 too where all lost at their ends since, which only looks like a gain when fresh: no string comes to ring longer)

# What is told of the whole sweep
NEAR_LEVEL_CENTS = 25.0  # so near to the middle string, a string lies where it does: of two groups a semitone apart none does (derived)
HARDLY_ANY_SHARE = 0.25  # of the strings: where fewer lie near to the middle one, it stands for none of them (set)
PITCH_LEVEL_CENTS = 4.0  # players aim within 1 or 2 cents and notice 5 in octaves (from memory)
WEATHER_CENTS = 4.0  # by which the strings of one material have moved otherwise than those of another (set: as far as PITCH_LEVEL_CENTS)
MATERIALS_APART_CENTS = 10.0  # from which on a harp has no one pitch level: half of what is worth a word of one string (set)
COMMON_DECAY = 0.12  # log of fresh over present decay time of most strings: a ninth of the ring (set) …
COMMON_DECAY_ERRORS = 3.0  # … and standard errors of it, from both of which on it is said (set)
CURVE_DB_PER_OCTAVE = 1.0  # slope of the level curve that all strings share, from which the sweep is called duller or brighter (set)
COMMON_BEAT_DB = 0.7  # new ripple of nearly all strings, peak to peak: less than a listener hears in one, BEAT_NOTICED_DB (set)
UNSTEADY = 1.5  # factor on the errors by which untouched strings scatter, from which it is said (set)
NOISY_SAID = 1.1  # factor on the errors that the recording's own noise makes, from which it is said (set)
ROOM_DECAY = 0.15  # log of fresh over present decay time of most strings that ring shorter than a room …
ROOM_LONG_SHARE = 0.5  # … and the share of it that the longer ones must not have lost, or the set has aged (set)
ROOM_MORE_DECAY = 0.1  # log decay that the shortest third must have lost beyond the longest (set) …
ROOM_RANK = 20.0  # per cent: at this rank of a third stand strings that are not bad, though half of it may be (set)
ROOM_MIDDLE_SHARE = 0.75  # … and those between less than this share of it: where trebles and middle lost alike they aged, and the wires did
# not (set: rooms of 0.9 to 3 s leave a half to two thirds)
SET_AGED_DECAY = 0.25  # log decay that most strings have lost where the set aged: then one that rings as when fresh shows no noise (set)
OTHER_SET_STRINGS = 5  # strings whose stiffness is known on both sides, of which most tell of another harp (set)
LEAST_REACH_HZ = 8000.0  # a recording that carries no more is spoken of, and its partials above are not compared (set)
LEAST_KBIT_S = 56.0  # kbit a second and channel, below which a codec leaves out or makes up what is quiet (measured on 48 real plucks
# through AAC, Opus, MP3 and Vorbis: partials 20 to 30 dB down are 0.6 to 4 cents off for 9 in 10 from 12 to 32 kbit/s, 0.3 to 0.5 at 64)
LOUD_IN_CODEC_DB = -25.0  # of a string's strongest partial: above this a partial comes through even then (measured on the same: one
# in twenty is lost, in AAC 24 and Opus 12 up to one in twelve, its frequency within 1 to 2.3 cents for 9 in 10) …
CODEC_DECAY_SPREAD = 0.1  # … its log decay with this standard deviation, in all plucks alike (measured on the same: 9 in 10 within 0.02 to
# 0.1 down to −12 dB, within 0.1 to 0.2 down to −25)
CODEC_SAY = 0.8  # strength of evidence that partials gone astray, another stiffness or an early loss of colour have at most in such a
# recording: watch, never dead or false, for what a codec does to a partial it may do in every pluck; two together lie below DECIDED (set)
ONE_PARTIAL_RING_SAY = 0.8  # strength of evidence of a lost ring that one partial alone tells, the room hiding that of the others: watch,
# and with duller partials still below DECIDED, for where a room's paths cancel a cent or two of pitch make it die twice as fast, in every
# pluck (derived here by simulation: of partials that outring a room by 1.3 to 2.2 one in a hundred loses 0.45 of its log decay and more
# from one pitch to the next)
OTHER_PULL_SAY = 0.8  # strength of evidence of a lost ring whose slow ends lost nothing: watch, and with duller partials, which another
# pull makes too, still below DECIDED (set; of drawn healthy strings of two planes it holds back 4 of 6, of 48 halved real rings none)
CODEC_RING_SAY = 0.74  # strength of evidence of a lost ring at most, in such a recording, where the string's whole ring tells of no loss:
# unsure (measured through AMR 12.2 and MP3 32: five of 72 healthy readings had it, none of the nine of halved rings that were named)
MOST_CLIPPED_S = 0.05  # overload in all, beyond which brightness is not compared (set)
HIDDEN_BY_ROOM = 0.6  # share of a half ring's loss below which it is the room that hides it, where it cannot be told (set)
ROOM_RING_S = 0.9  # strings ringing less are lengthened by a room of 0.3 to 0.6 s reverberation (set: half as long again as such a room)

# A string without baseline among its neighbours of the same material
NEIGHBOUR_SPREAD = 0.2  # log decay time about a smooth run over the harp (measured)
STANDS_OUT_DECAY = math.log(2.0)  # log decay time below that run: half the ring of its neighbours (set)
STANDS_OUT_ASTRAY = math.log(3.0)  # log of how far its partials lie off, over its neighbours': three times as far (set)
