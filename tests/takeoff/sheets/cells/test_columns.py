"""The header row of a table."""

from takeoff.sheets.cells.columns import Column, InMetres, read_header
from takeoff.sheets.cells.kinds import Text, Whole
from takeoff.sheets.cells.measured import Length

COLUMNS = (
    Column("run", Text(), "The run.", required=True),
    Column("seal_width", Length(), "How wide.", default=1, default_help="1 ft", example="2 ft"),
    Column("count", Whole(), "How many."),
)


def told(*cells, **more):
    found, problems = read_header("ends", COLUMNS, cells, **more)
    return [(one.column.name, one.index, one.unit) for one in found], [str(problem) for problem in problems]


def test_columns_are_named_in_any_order_case_and_spelling_with_their_unit():
    assert told(" Seal Width (in) *", None, "", "RUN") == ([("seal_width", 0, "in"), ("run", 3, None)], [])
    assert told("run", "seal-width [mm]")[0] == [("run", 0, None), ("seal_width", 1, "mm")]


def test_what_is_wrong_with_a_header_is_told_column_by_column():
    found, problems = told("run", "Run", "widht", "count (in)", "seal_width (lb)")
    assert found == [("run", 0, None), ("count", 3, None), ("seal_width", 4, None)]
    assert problems == [
        "ends, row 1, column run: found Run, expected every column once",
        "ends, row 1, column widht: found widht, expected a column of this table: one of run, seal_width, count",
        "ends, row 1, column count: found count (in), expected count, with a unit of its kind or none",
        "ends, row 1, column seal_width: found seal_width (lb), expected seal_width, with a unit of its kind or none",
    ]
    assert told("count") == (
        [("count", 0, None)], ["ends, row 1, column run: found nothing, expected a column run: The run."],
    )  # fmt: skip


def test_an_empty_header_and_a_column_of_old_say_what_is_expected():
    assert told(None, None) == (
        [], ["ends, row 1: found nothing, expected the names of the columns: run, seal_width, count"],
    )  # fmt: skip
    assert told("run", "Old One", gone={"old_one": "the table others"})[1] == [
        "ends, row 1, column Old One: found Old One, expected the table others"
    ]


def test_a_column_says_what_is_different_in_metres():
    column = Column(
        "length", Length(), "x", default=1, default_help="1 ft", example="2 ft", metric=InMetres(300, "300 mm", "0.6 m")
    )
    assert column.on("ft") is column
    there = column.on("m")
    assert (there.default, there.default_help, there.example, there.metric) == (300, "300 mm", "0.6 m", None)
    part = Column("length", Length(), "x", default=1, default_help="1 ft", example="2 ft", metric=InMetres()).on("m")
    assert (part.default, part.default_help, part.example) == (1, "1 ft", "2 ft")
    assert COLUMNS[0].on("m") is COLUMNS[0]
