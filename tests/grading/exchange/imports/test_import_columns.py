"""What is wrong in a table is said once for all the cells that it is true of."""

from grading.exchange.imports.import_columns import CellProblem, group_problems, row_ranges


def test_one_sentence_for_a_column_names_all_its_rows() -> None:
    problems = [
        CellProblem(2, "Date", "4.3.26", "A day is written 2026-03-04."),
        CellProblem(2, "Type", "", "Required."),
        *(CellProblem(row, "Date", f"{row}.3.26", "A day is written 2026-03-04.") for row in (3, 4, 9, 10, 12, 13, 14)),
        CellProblem(5, "Other day", "x", "A day is written 2026-03-04."),
    ]
    first, second, third = group_problems(problems)
    assert (first.rows, first.column, first.cells) == ("2–4, 9–10, 12–14", "Date", 8)
    assert first.typed == ("4.3.26", "3.3.26", "9.3.26", "10.3.26", "12.3.26")  # the first contents, none twice
    assert (second.rows, second.typed) == ("2", ("",))
    assert (third.rows, third.column) == ("5", "Other day")
    assert row_ranges([0]) == ""
