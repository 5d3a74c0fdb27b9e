"""The published rules as data, in the units in which they are printed (degF, seconds). Written from the texts;
nothing here is taken from the program. Sources: FDA Food Code 3-401.11, 3-403.11, 3-501.14, 3-501.16, 3-501.19;
FSIS Cooking Guideline (Revised Appendix A, December 2021) tables 2, 3, 4 and 6 (tests/reference/food-safety);
FSIS Appendix B (1999) options 1 to 3; FSIS and FoodSafety.gov minimum temperatures; CDC MMWR 2024 for bear."""
import csv
import functools
from dataclasses import dataclass
from pathlib import Path

TABLES = Path(__file__).resolve().parent.parent / "reference/food-safety"
HOUR = 3600.0


@dataclass(frozen=True)
class Target:
    """The coldest point reaches `degf` and stays there for `hold_s` in all."""
    degf: float
    hold_s: float
    source: str


FOOD_CODE_A3 = "FDA Food Code 3-401.11(A)(3): 165 degF"
REST = "FSIS safe temperature chart: 145 degF and 3 min of rest"
# The safer of the published figures for each class; None: no text asks for one.
TARGETS = {
    "ground-poultry": Target(165, 0, FOOD_CODE_A3),
    "whole-poultry": Target(165, 0, FOOD_CODE_A3),
    "stuffed": Target(165, 0, FOOD_CODE_A3),
    "bear-boar": Target(165, 0, "CDC MMWR 2024; FDA Food Code 3-401.11(A)(3): wild game"),
    "venison": Target(165, 0, FOOD_CODE_A3 + " for wild game; FoodSafety.gov says 160"),
    "ground-meat": Target(160, 0, "FSIS safe temperature chart: ground meat 160 degF"),
    "whole-meat": Target(145, 180, REST),
    "fresh-ham": Target(145, 180, REST),
    "cured-ham": Target(145, 180, REST),
    "fish": Target(145, 0, "FSIS safe temperature chart: fish 145 degF; Food Code 3-401.11(A)(1): 15 s"),
    "egg-dish": Target(160, 0, "FoodSafety.gov: egg dishes 160 degF"),
    "leftover": Target(165, 0, "FDA Food Code 3-403.11(A)"),
    "vegetable": Target(135, 0, "FDA Food Code 3-401.13: plant food for hot holding"),
    "stock": None,
}
MEAT = {"ground-meat", "whole-meat", "fresh-ham", "cured-ham"}
POULTRY = {"ground-poultry", "whole-poultry", "stuffed"}
CURED = {"cured-ham"}


@functools.lru_cache(maxsize=None)
def dwell_rows(food):
    """{log10: {degF: seconds}} of the FSIS table for a class; the fat and the bird that ask for most."""
    rows = {}
    if food in MEAT:
        for row in read_table("fsis_meat.csv"):
            rows.setdefault(float(row["log10"]), {})[int(row["degf"])] = float(row["seconds"])
    elif food in POULTRY:
        of = rows.setdefault(7.0, {})
        for row in read_table("fsis_poultry.csv"):
            degf = int(row["degf"])
            of[degf] = max(of.get(degf, 0.0), float(row["seconds"]))
    return rows


def read_table(name):
    with open(TABLES / name, encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


# The table stands only where the come-up from 50 to 130 degF took at most 6 h (FSIS Cooking Guideline 2021).
COME_UP_DEGF, COME_UP_S = (50, 130), 6 * HOUR


@dataclass(frozen=True)
class Cooling:
    """Stages (to degF, at most s after the fall through `from_degf`); `cure`: only for food cured with nitrite."""
    from_degf: float
    stages: tuple
    cure: bool
    source: str


COOLING = {
    "food-code": Cooling(135, ((70, 2 * HOUR), (41, 6 * HOUR)), False, "FDA Food Code 3-501.14(A)"),
    "fsis-1": Cooling(130, ((80, 1.5 * HOUR), (40, 6.5 * HOUR)), False, "FSIS Appendix B (1999) option 1"),
    "fsis-3": Cooling(130, ((80, 5 * HOUR), (45, 15 * HOUR)), True, "FSIS Appendix B (1999) option 3"),
}
COLD_FOR_GOOD_S = 1 * HOUR  # below the last limit for this long: the cooling is over

REHEAT_DEGF, REHEAT_HOLD_S, REHEAT_S, REHEAT_FROM_DEGF = 165, 15, 2 * HOUR, 41  # Food Code 3-403.11(A), (D)
HOT_HOLD_DEGF, COLD_HOLD_DEGF = 135, 41  # Food Code 3-501.16(A)
DANGER_DEGF = (40, 140)  # USDA: 2 h in all
DANGER_S = 2 * HOUR

# What a core that nobody looks at may do. Five times the mean rate of a 140 g piece of beef in a 175 degC oven
# (14 to 57 degC in 630 s), so that thinner food is covered.
FASTEST_K_PER_S = 20 / 60


def fastest_k_per_s(thickness_m):
    """The steepest of the sphere's series solution, 5.9 a dT / R^2 (a = 1.5e-7 m2/s, dT at most 130 K in a wet
    surface's reach), for a dish whose thickness is known; never more than for one that is not."""
    if not thickness_m:
        return FASTEST_K_PER_S
    return min(FASTEST_K_PER_S, 5.9 * 1.5e-7 * 130 / (thickness_m / 2) ** 2)


def celsius(degf):
    return (degf - 32) * 5 / 9
