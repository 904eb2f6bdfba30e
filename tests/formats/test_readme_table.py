"""README says what the table in code says."""

from tests.formats import readme_table


def test_the_readme_holds_the_table_as_it_is_in_code() -> None:
    assert readme_table.table() in readme_table.README.read_text(encoding="utf-8")
