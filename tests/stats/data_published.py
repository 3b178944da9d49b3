"""Other people's published times, small enough to stand here, each with its source."""

import numpy as np

INF = np.inf


def _pairs(text):
    ends = [pair.split(",") for pair in text.replace("(", "").replace(")", " ").split()]
    return np.array(ends, dtype=float).T


# Breast cosmesis, months to retraction: Finkelstein & Wolfe (1985), Biometrics 41, 933-945;
# the 94 rows as printed there, (L, R].
RADIATION = _pairs(
    "(0,5)(0,7)(0,8)(4,11)(5,11)(5,12)(6,10)(7,14)(7,16)(11,15)(11,18)(15,inf)(17,25)(17,25)"
    "(17,inf)(18,inf)(19,26)(19,35)(22,inf)(24,inf)(24,inf)(25,37)(26,40)(27,34)(32,inf)(33,inf)"
    "(34,inf)(36,44)(36,48)(36,inf)(36,inf)(37,44)(37,inf)(37,inf)(37,inf)(38,inf)(40,inf)(45,inf)"
    + "(46,inf)"
    * 8
)
WITH_CHEMOTHERAPY = _pairs(
    "(0,5)(0,22)(4,8)(4,9)(5,8)(8,12)(8,21)(10,17)(10,35)(11,13)(11,17)(11,20)(11,inf)(11,inf)"
    "(12,20)(13,39)(13,inf)(13,inf)(13,inf)(14,17)(14,19)(15,22)(16,20)(16,24)(16,24)(16,60)"
    "(17,23)(17,26)(17,27)(18,24)(18,25)(19,32)(21,inf)(22,32)(23,inf)(24,30)(24,31)(30,34)"
    "(30,36)(31,inf)(32,inf)(33,40)(34,inf)(34,inf)(35,39)(35,inf)(44,48)(48,inf)"
)

# Weeks in remission, 21 pairs: Freireich et al. (1963), Blood 21, 699-716; "+" is inf.
_TREATED = "10 7 32+ 23 22 6 16 34+ 32+ 25+ 11+ 20+ 19+ 6 17+ 35+ 6 13 9+ 6+ 10+"
TREATED = np.array(
    [(float(t.rstrip("+")), INF if t.endswith("+") else float(t)) for t in _TREATED.split(" ")]
).T
CONTROL = np.array([[1, 22, 3, 12, 8, 17, 2, 11, 8, 12, 2, 5, 4, 15, 8, 23, 5, 11, 4, 1, 8.0]] * 2)

# Millions of revolutions before failure: Lieblein & Zelen (1956), Journal of Research of
# the National Bureau of Standards 57, 273-316; also Lawless (1982), p. 228.
_BEARINGS = (
    "17.88 28.92 33.00 41.52 42.12 45.60 48.48 51.84 51.96 54.12 55.56 67.80 68.64 68.64 68.88 "
    "84.12 93.12 98.64 105.12 105.84 127.92 128.04 173.40"
)
BEARINGS = np.array(_BEARINGS.split(" "), dtype=float)
