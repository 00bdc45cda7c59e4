"""Give the prior of a school that has not learned one of its own. Pure.

Learned once by `learn_prior` from 600 simulated students of six kinds in equal parts (`learners.py`, seed 777, kinds of
a share below 0.02 left out), its span by `calibrate` from 600 others (seed 778). No figure here was measured at a
school: until it is, the forecast is as good as those six kinds are like its students.
"""

from grading.rules.forecast.prior import Kind, Prior

DEFAULT = Prior(
    kinds=(
        Kind(
            share=0.628,
            middles=(0.0114, 0.0894, 0.5533, 0.2263, 0.0852, 0.0142, 0.0076, 0.005, 0.0037, 0.0039),
            steeps=(0.4162, 0.5249, 0.0589),
            starts=(0.6107, 0.3666, 0.0172, 0.0056),
            tops=(0.0222, 0.0339, 0.0381, 0.0387, 0.1503, 0.2833, 0.1901, 0.1387, 0.0566, 0.0481),
            day_spreads=(0.9542, 0.0458),
            losses=(0.5884, 0.2871, 0.1245),
        ),
        Kind(
            share=0.1785,
            middles=(0.266, 0.2577, 0.1688, 0.0893, 0.0609, 0.0376, 0.0349, 0.0298, 0.0281, 0.0269),
            steeps=(0.3649, 0.2799, 0.3551),
            starts=(0.0225, 0.0269, 0.1371, 0.8134),
            tops=(0.0032, 0.0039, 0.008, 0.0474, 0.388, 0.2323, 0.1633, 0.0844, 0.0518, 0.0176),
            day_spreads=(0.9566, 0.0434),
            losses=(0.4208, 0.3432, 0.236),
        ),
        Kind(
            share=0.1665,
            middles=(0.1227, 0.2079, 0.1662, 0.1212, 0.2032, 0.0624, 0.0546, 0.0315, 0.0147, 0.0155),
            steeps=(0.0901, 0.1609, 0.749),
            starts=(0.6418, 0.2548, 0.0439, 0.0595),
            tops=(0.0296, 0.0133, 0.0093, 0.0126, 0.0301, 0.0898, 0.308, 0.2853, 0.1417, 0.0803),
            day_spreads=(0.719, 0.281),
            losses=(0.8572, 0.0942, 0.0486),
        ),
        Kind(
            share=0.027,
            middles=(0.0732, 0.1283, 0.2319, 0.209, 0.1086, 0.0653, 0.0507, 0.0493, 0.0421, 0.0416),
            steeps=(0.3355, 0.388, 0.2765),
            starts=(0.2866, 0.4428, 0.1647, 0.1059),
            tops=(0.04, 0.053, 0.071, 0.0988, 0.1546, 0.1446, 0.1618, 0.1121, 0.0878, 0.0763),
            day_spreads=(0.7366, 0.2634),
            losses=(0.478, 0.3049, 0.2171),
        ),
    ),
    span=(0.054, 0.853),
)
