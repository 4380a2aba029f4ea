"""What a median tells of a spread: constants of the normal and of the exponential distribution."""

import numpy as np

SD_OF_DEVIATION = 1.4826  # standard deviation of a normal over the median of its absolute deviations
MEDIAN_OF_NORMAL = 0.6745  # the same the other way round: median of its absolute values, in standard deviations
SE_OVER_MEANS = 1.2533  # standard error of a median over that of a mean, √(π/2)
MEDIAN_OF_EXPONENTIAL = np.log(2.0)  # median over mean of an exponential, as a noise periodogram's values are
