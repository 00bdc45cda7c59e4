"""List the people of the invented school, and how each student learns. No name or number is a real one."""

from dataclasses import dataclass

PASSWORD = "three-in-a-row-demo"  # noqa: S105 - of the demo school only, printed when it opens


@dataclass(frozen=True)
class Staff:
    username: str
    given: str
    family: str
    reference: str
    roles: tuple[str, ...]
    certificate: str = ""
    has_expiry: bool = False


STAFF = (
    Staff("ruth", "Ruth", "Achterberg", "TP-S-01", ("chief", "instructor"), "CFI-000117"),
    Staff("tomas", "Tomas", "Vell", "TP-I-07", ("instructor",), "CFI-000207"),
    Staff("salma", "Salma", "Idowu", "TP-I-09", ("instructor",), "CFI-000309", has_expiry=True),
    Staff("pieter", "Pieter", "Ravn", "TP-I-12", ("instructor",), "CFI-000412"),
    Staff("dag", "Dag", "Imrie", "TP-A-02", ("admin",)),
)


@dataclass(frozen=True)
class Learner:
    """Parameters from which the history of one student is simulated.

    ceiling, pace: the skill in circuits approaches `ceiling` (0 to 1) with this many circuits as its
    time constant (one student's learning follows an exponential: Heathcote, Brown and Mewhort 2000).
    until_unit: how far in the syllabus; rounds: lessons at units 10 to 14; slump: circuits of a relapse
    at the end; goal: "ready" or "released" go on until that is reached, "expiring" is released for a few days more,
    "withdrawn" lost the release after the first solo; ended: how the training ended on the last
    day, certified by the chief; corrected: one lesson was signed again in a second version. What the records lack: the
    lessons of the last days wait for the student's signature (answers_after); those of a unit were signed two days
    late (signed_late) or have no block times (without_block_times).
    """

    username: str
    given: str
    family: str
    reference: str
    age: int
    instructor: str
    until_unit: int
    tailwheel: bool = True
    ceiling: float = 0.97
    pace: float = 26
    rounds: int = 1
    slump: bool = False
    goal: str = ""
    days_ago: int = 1
    medical_months_ago: int = 8
    reassigned_to: str = ""
    unsigned: bool = False
    ended: str = ""
    corrected: bool = False
    answers_after: int = 1
    signed_late: int | None = None
    without_block_times: int | None = None
    # Of so many of the last lessons with circuits there is a flight track.
    tracks: int = 0


LEARNERS = (
    Learner("lena", "Lena", "Quist", "TP-0431", 19, "pieter", 2, days_ago=2),
    Learner("oda", "Oda", "Fenn", "TP-0428", 24, "tomas", 7, days_ago=13, medical_months_ago=61),
    Learner("samir", "Samir", "Cole", "TP-0425", 31, "salma", 8, days_ago=1, without_block_times=5),
    Learner(
        "bea",
        "Bea",
        "Lanning",
        "TP-0421",
        28,
        "pieter",
        11,
        ceiling=0.7,
        pace=9,
        rounds=3,
        days_ago=3,
        answers_after=16,
        corrected=True,
    ),
    Learner(
        "ines", "Ines", "Harrow", "TP-0417", 22, "tomas", 14, rounds=1, pace=19, days_ago=1, unsigned=True, tracks=3
    ),
    Learner("jonas", "Jonas", "Aldermere", "TP-0414", 44, "salma", 14, rounds=2, slump=True, days_ago=2),
    Learner("wen", "Wen", "Tarrant", "TP-0409", 26, "tomas", 16, pace=8, goal="ready", days_ago=1),
    Learner(
        "mirela",
        "Mirela",
        "Dosht",
        "TP-0406",
        20,
        "pieter",
        13,
        rounds=2,
        reassigned_to="salma",
        days_ago=4,
        signed_late=9,
    ),
    Learner("ada", "Ada", "Quill", "TP-0402", 52, "pieter", 12, rounds=1, days_ago=27),
    Learner(
        "hugo", "Hugo", "Pell", "TP-0398", 17, "tomas", 16, tailwheel=False, pace=10, rounds=1, days_ago=2, tracks=2
    ),
    Learner("marit", "Marit", "Osei", "TP-0391", 23, "salma", 17, pace=7, goal="released", days_ago=1),
    Learner("pavel", "Pavel", "Strand", "TP-0387", 35, "salma", 9, days_ago=40, ended="transferred"),
    Learner("kofi", "Kofi", "Mensah", "TP-0383", 29, "tomas", 17, pace=7, goal="withdrawn", days_ago=2),
    Learner("runa", "Runa", "Bask", "TP-0382", 33, "pieter", 17, pace=7, goal="expiring", days_ago=3),
    Learner("theo", "Theo", "Brandvik", "TP-0433", 16, "pieter", 0, tailwheel=False, days_ago=0),
)
