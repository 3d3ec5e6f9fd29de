"""A question in SQL reaches the documented views and nothing else, and never more than it may take."""

import re
from datetime import date

import duckdb
import polars as pl
import pytest

from outcomes.cohort import Selection
from outcomes.errors import RegisterRefused, WrongUsage
from outcomes.findings.results import Share
from outcomes.protocol import default_protocol
from outcomes.store import (
    VIEWS,
    Limits,
    QuestionRefused,
    Source,
    SqlQuestion,
    ask,
    freeze,
    questions,
    reading,
    views,
    withdraw_patient,
    write_parquet,
)
from outcomes.store.connection import open_beside, shut_in
from outcomes.store.query.catalogue import guessed
from outcomes.store.query.views import make_views
from outcomes.store.query.worker import _Refused, check_question
from tests.store.clinic import AT, made

AS_OF = date(2026, 6, 30)
SMALL = Limits(seconds=2, memory_mb=500)

BEYOND_THE_VIEWS = """
from read_text('/etc/passwd')
from '/etc/passwd'
from read_csv('/etc/passwd')
from read_blob('/etc/passwd')
from read_json_auto('/etc/passwd')
from parquet_metadata('x.parquet')
from sniff_csv('/etc/passwd')
from glob('/*')
from 'http://localhost/x.csv'
from duckdb_settings()
from duckdb_secrets()
from duckdb_tables()
from pragma_database_list()
from information_schema.tables
from pg_catalog.pg_settings
from sqlite_master
from query('select 1')
from query_table('cases')
from test_all_types()
from seq_scan('cases')
from raw.patients
from patients
from changes
from seals
from register
from main.changes
from memory.main.cases
from cases where case_id in (from read_text('/etc/passwd'))
from cases, lateral (from read_text('/etc/passwd'))
with x as (from read_text('/etc/passwd')) from x
with recursive x as (select 1 union all (select 2 from read_text('/etc/passwd'))) from x
select (select content from read_text('/etc/passwd'))
select getenv('HOME')
select current_setting('temp_directory')
select getvariable('x')
select nextval('x')
select write_log('x')
select json_execute_serialized_sql('x')
select /* from cases */ getenv('HOME') -- from cases
show tables
show all tables
show databases
attach 'x.duckdb' as x
detach memory
copy cases to 'x.csv'
copy (select 1) to 'x.csv'
copy cases from 'x.csv'
export database 'x'
import database 'x'
install httpfs
load httpfs
pragma database_list
pragma enable_profiling
call pragma_version()
checkpoint
set memory_limit = '10GB'
reset memory_limit
use raw
create table x as select 1
create temp view x as select 1
create secret s (type s3)
create macro x() as 1
insert into cases from cases
update cases set sex = 'x'
delete from cases
drop table cases
alter table cases add column x integer
comment on table cases is 'x'
truncate cases
vacuum
analyze
begin
prepare x as select 1
execute x
explain select 1
explain analyze select 1
select 1; select 2
select 1; drop table cases
/* from cases */ drop table cases
pivot cases on side using count(*)
-- nothing
""".strip().splitlines()

TOO_MUCH = [
    "with recursive t as (select 1 as n union all select n + 1 from t) select count(*) from t",
    "with recursive t as (select 'x' as a union all select a || a from t) select max(length(a)) from t",
    "select length(repeat('x', 2000000000))",
    "select list(range) from range(2000000000)",
    "select count(*) from range(10000000) a, range(10000000) b where a.range + b.range = 7",
    "from range(1000000)",
    "select repeat('x', 1000000) from range(1000)",
]


@pytest.fixture(scope="module")
def register(tmp_path_factory):
    return made(tmp_path_factory.mktemp("asked"))


@pytest.fixture(scope="module")
def con(register):
    with reading(register, open_it=open_beside) as held:
        make_views(held)
        shut_in(held.con)
        yield held.con


@pytest.mark.parametrize("sql", BEYOND_THE_VIEWS)
def test_whatever_looks_beyond_the_views_is_refused_with_a_sentence(con, sql):
    with pytest.raises((_Refused, duckdb.ParserException)) as refused:
        check_question(con, sql)
    assert len(str(refused.value)) > 20


@pytest.mark.parametrize(
    "sql",
    [
        sql
        for sql in BEYOND_THE_VIEWS
        if re.search(r"read_|glob|sniff|/etc|http|parquet_|copy|attach|load|set memory", sql)
    ],
)
def test_even_unchecked_it_would_reach_no_file_and_no_setting(con, sql):
    # The second wall: the connection itself. The check before it is tested above.
    with pytest.raises(duckdb.Error):
        con.execute(sql).fetchall()


@pytest.mark.slow
@pytest.mark.parametrize("sql", TOO_MUCH)
def test_what_takes_too_much_is_stopped_with_a_sentence(register, sql):
    with pytest.raises(QuestionRefused, match=r"was stopped|ask for less"):
        ask(register, SqlQuestion(sql, {}), limits=SMALL)


@pytest.mark.parametrize(
    "sql",
    [
        "from cases",
        "select count(*) from CASES where case_id = $x",
        "with lids as (from cases) select * from lids join events using (case_id)",
        "with recursive t as (select 1 as n union all select n + 1 from t where n < 9) from t",
        "select * from unnest([1, 2])",
        "values (1)",
        "describe cases",
        "summarize cases",
        "select * from cases; -- a comment",
        "from (unpivot (select case_id, defect_width_mm from cases) on defect_width_mm)",
    ],
)
def test_an_ordinary_question_is_let_through(con, sql):
    check_question(con, sql)


def test_a_question_is_answered_with_types_and_settings(register):
    sql = (
        "select case_id, divided_on, defect_width_mm, divided_on is null as undivided from cases where case_id = $case"
    )
    answer = ask(register, SqlQuestion(sql, {"case": "C2"}))
    assert [kind for _, kind in answer.columns] == ["VARCHAR", "DATE", "DOUBLE", "BOOLEAN"]
    assert answer.rows == (("C2", "2025-01-28", 18.5, False),)
    with reading(register) as held:
        assert answer.digest == held.digest


def test_nothing_is_written_by_asking(register):
    before = {path: path.read_bytes() for path in register.parent.rglob("*") if path.is_file()}
    ask(register, SqlQuestion("from reviews order by case_id", {}))
    assert {path: path.read_bytes() for path in register.parent.rglob("*") if path.is_file()} == before


def test_a_mistake_is_told_without_a_traceback(register):
    with pytest.raises(QuestionRefused, match="nosuch"):
        ask(register, SqlQuestion("select nosuch from cases", {}))


def test_a_missing_register_is_told(tmp_path):
    with pytest.raises(RegisterRefused, match="there is no register"):
        ask(tmp_path / "none.duckdb", SqlQuestion("from cases", {}))


def test_a_withdrawn_patient_is_in_no_view(tmp_path):
    register = made(tmp_path)
    withdraw_patient(register, "P2", source=Source(reason="asked"), at=AT)
    theirs = ("cases", "reviews", "measured", "window_values", "events", "follow_up")
    sql = " union all ".join(f"select '{view}' as view, case_id from {view}" for view in theirs)
    answer = ask(
        register, SqlQuestion(f"select view, list(distinct case_id order by case_id) from ({sql}) group by view", {})
    )
    assert dict(answer.rows) == dict.fromkeys(theirs, "['C1', 'C3']")


def test_a_freeze_is_asked_as_it_was_frozen(tmp_path):
    register = made(tmp_path)
    freeze(register, "first", source=Source(), at=AT)
    freeze(register, "closed", source=Source(), at=AT, passphrase="correct horse battery")
    withdraw_patient(register, "P2", source=Source(reason="asked"), at=AT)
    count = SqlQuestion("select count(*) from cases", {})
    assert ask(register, count).rows == ((2,),)
    assert ask(register, count, frozen="first").rows == ((3,),)
    assert ask(register, count, frozen="closed", passphrase="correct horse battery").rows == ((3,),)


def test_every_question_of_ours_is_answered(con):
    assert len(questions()) >= 12
    for each in questions():
        check_question(con, each.sql)
        typed = {setting.name: "C1" for setting in each.settings if not setting.default}
        con.execute(each.sql, each.given(typed, as_of=AS_OF)).fetchall()


def test_every_question_says_what_it_asks_and_gives():
    for each in questions():
        assert each.asks.endswith("?"), each.name
        assert each.grain.startswith("one row a"), each.name
        assert set(re.findall(r"\$(\w+)", each.sql)) == {setting.name for setting in each.settings}, each.name
        assert all(setting.says for setting in each.settings)


def test_every_column_of_a_view_is_named_in_its_description(con):
    # Fields of the sheets are defined in the data dictionary; every other column must be told in the header.
    protocol = default_protocol()
    of_sheets = {field.id for field in protocol.fields}
    for view in views():
        columns = [row[0] for row in con.execute(f"describe {view.name}").fetchall()]
        told = set(re.findall(r"\w+", view.columns))
        inherited = told & {"those"}
        missing = [name for name in columns if name not in told and name not in of_sheets]
        assert not missing or inherited, (view.name, missing)
    assert [view.name for view in views()] == list(VIEWS)


def test_settings_are_read_by_their_kind():
    [each] = [each for each in questions() if each.name == "not_seen_since"]
    assert each.given({"months": "6"}, as_of=AS_OF) == {"as_of": AS_OF, "months": 6.0}
    with pytest.raises(WrongUsage, match="no number"):
        each.given({"months": "six"}, as_of=AS_OF)
    with pytest.raises(WrongUsage, match="no setting"):
        each.given({"month": "6"}, as_of=AS_OF)
    assert [guessed(text) for text in ("2.5", "2024-03-05", "graft")] == [2.5, date(2024, 3, 5), "graft"]


def test_the_answer_goes_to_parquet_with_its_stamp(register, tmp_path):
    answer = ask(register, SqlQuestion("select case_id, operated_on, 1.5 as x, null as y from cases order by 1", {}))
    write_parquet(answer, tmp_path / "a.parquet", {"register": answer.digest, "question": "it's mine"})
    frame = pl.read_parquet(tmp_path / "a.parquet")
    assert frame.get_column("case_id").to_list() == ["C1", "C2", "C3"]
    assert frame.schema["operated_on"] == pl.Date
    assert pl.read_parquet_metadata(tmp_path / "a.parquet")["question"] == "it's mine"


@pytest.mark.slow
def test_windows_and_poor_results_are_those_of_the_comparison(tmp_path):
    # The views are SQL, the comparison is Polars: two ways to the same numbers, on the invented clinic.
    from outcomes.cli.compare import compared
    from outcomes.cli.demo import workbook_path
    from outcomes.cli.load import load_path
    from outcomes.store import create_register

    register = tmp_path / "demo.duckdb"
    create_register(register, default_protocol())
    load_path(workbook_path(), register, as_of=AS_OF.isoformat())
    comparison, _ = compared(register, "", Selection(AS_OF))
    expected = {
        (each.measure, each.window, cohort): (side.n, side.events)
        for each in comparison.findings
        if each.clock == "division"
        for cohort, side in (("grafted", each.grafted), ("advanced", each.advanced))
        if isinstance(side, Share) and side.n
    }
    sql = """
        select measure, "window", cohort, count(*), count_if(poor)
        from window_values where judged and cohort <> '' and reviewed_on <= $as_of group by all
    """
    told = ask(register, SqlQuestion(sql, {"as_of": AS_OF})).rows
    assert {tuple(row[:3]): tuple(row[3:]) for row in told} == expected
    assert len(expected) > 100
