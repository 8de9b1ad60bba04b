"""What the language server tells: of every kind of word, of files outside the editor, of itself, and what settings change.

The client, the small works and their documents are those of language_server.py. Run by tests/external_server.rs.
"""

import asyncio

import pytest
from lsprotocol import types
from pytest_lsp import LanguageClient

# The fixtures are found by their names here.
from language_server import (  # noqa: F401
    FINISHED,
    UNIT,
    Document,
    client,
    codes,
    hover,
    pushed,
    small_works,
)

EVERYTHING = types.Range(start=types.Position(0, 0), end=types.Position(100_000, 0))


async def until(answer):
    """Asks again until the answer is one."""
    for _ in range(1_000):
        found = await answer() if asyncio.iscoroutinefunction(answer) else answer()
        if found:
            return found
        await asyncio.sleep(0.02)
    raise AssertionError("it never came")


# ------------------------------------------------------------------------------------------------ hover


@pytest.mark.asyncio
async def test_a_reading_tells_of_its_sisters(client: LanguageClient):
    document = Document(client, client.root / "lot/KFT-0440-1.ubr")
    text = await hover(client, document, document.at("= 2.481 kW", 3))
    assert "sisters: " in text.replace("\\", "") and "KFT-0440-2 2." in text.replace("\\", ""), text


@pytest.mark.asyncio
async def test_a_unit_tells_what_its_amount_is_in_others(client: LanguageClient):
    _, _, record = small_works(client)
    text = await hover(client, record, record.at("2 kW", 3))
    assert "2000 W" in text and "allowed" in text, text


@pytest.mark.asyncio
async def test_a_function_tells_its_signature_formula_and_source(client: LanguageClient):
    plan, _, _ = small_works(client)
    plan.put("calc double = loss * 2", "calc double = resistance-at(resistance[U], 20 °C, 75 °C, \"copper\")")
    text = await hover(client, plan, plan.at("resistance-at", 3))
    assert "theta" in text and "IEC 60076-1" in text and "235" in text, text


@pytest.mark.asyncio
async def test_an_instrument_and_a_person_on_the_day_of_the_work(client: LanguageClient):
    _, register, record = small_works(client)
    at = record.at("with MI-1", 6)
    assert "in calibration on 2026-02-01, due 2027-01-12" in (await hover(client, record, at)).replace("\\", "")
    register.put("calibrated 2026-01-12", "calibrated 2026-03-12")
    assert "not in calibration on 2026-02-01" in (await hover(client, record, at)).replace("\\", "")
    register.put("  roles quality", "  roles quality\n  valid 2026-06-01 .. 2027-01-01")
    text = await hover(client, record, record.at("by A.Bee", 4))
    assert "roles: quality" in text and "not on 2026-02-01" in text.replace("\\", ""), text


@pytest.mark.asyncio
async def test_a_point_tells_what_it_still_lacks(client: LanguageClient):
    _, _, record = small_works(client)
    done = await hover(client, record, record.at("release H1", 9))
    assert "hold" in done and "done" in done, done
    record.put("  loss = 2 kW\n", "")
    open_ = await hover(client, record, record.at("release H1", 9))
    assert "loss" in open_ and "still to be recorded" in open_, open_


@pytest.mark.asyncio
@pytest.mark.parametrize(
    "needle, inside, words",
    [
        ("set phase", 5, ["set"]),
        ("role quality", 6, ["role"]),
        ("stage tests", 7, ["stage"]),
        ("reading loss", 9, ["reading", "limit <= 3 kW"]),
        (": power", 3, ["kind", "kW"]),
        ("calc double", 6, ["calculated value"]),
        ("double <=", 2, ["calculated value", "loss * 2"]),
        ("check small", 7, ["check"]),
        ("hold H1", 6, ["point"]),
    ],
)
async def test_every_kind_of_name_in_a_plan(client: LanguageClient, needle, inside, words):
    plan, _, _ = small_works(client)
    text = await hover(client, plan, plan.at(needle, inside))
    assert text and all(word in text.replace("\\", "") for word in words), text


@pytest.mark.asyncio
async def test_rules_registers_and_design_values(client: LanguageClient):
    plan, register, record = small_works(client)
    plan.put("stage tests", "design\n  may frequency : frequency\nstage tests")
    record.put("stage tests\n", "design rev A on 2026-01-02\n  frequency = 50 Hz\nstage tests\n")
    record.put("  loss", "  accept out-of-limit because \"so\" by A.Bee on 2026-02-01\n  loss")
    for needle, inside, word in [
        ("out-of-limit", 3, "limit"),
        ("register r", 9, "register"),
        ("frequency = ", 3, "frequency"),
        ("unit T-1", 6, "T-1"),
    ]:
        text = await hover(client, record, record.at(needle, inside))
        assert text and word in text.replace("\\", ""), (needle, text)
    text = await hover(client, register, register.at("instrument MI-1", 12))
    assert "measures power, resistance" in text, text


# ------------------------------------------------------------------------------------------------ links, symbols, roots


@pytest.mark.asyncio
async def test_links_lead_to_plan_register_log_and_attachment(client: LanguageClient):
    _, _, record = small_works(client)
    folder = record.path.parent
    (folder / "photo.jpg").write_bytes(b"")
    (folder / "oven.csv").write_text("time\n")
    record.put("  loss", "  attach \"photo.jpg\" \"as found\"\n  log oven from \"oven.csv\"\n  attach \"../outside.jpg\"\n  loss")
    links = await client.text_document_document_link_async(types.DocumentLinkParams(text_document=record.id))
    found = {(record.slice(link.range), link.target.rsplit("/", 1)[1]) for link in links}
    assert found == {
        ("p", "plan.ubr"),
        ("r", "register.ubr"),
        ('"photo.jpg"', "photo.jpg"),
        ('"oven.csv"', "oven.csv"),
    }


@pytest.mark.asyncio
async def test_a_folder_may_come_and_go(client: LanguageClient, tmp_path):
    other = tmp_path / "elsewhere"
    other.mkdir()
    (other / "plan.ubr").write_text("plan elsewhere rev A\nstage far-away\n")
    folder = types.WorkspaceFolder(uri=other.as_uri(), name="elsewhere")

    async def found():
        return await client.workspace_symbol_async(types.WorkspaceSymbolParams(query="far-away"))

    def change(added, removed):
        client.workspace_did_change_workspace_folders(
            types.DidChangeWorkspaceFoldersParams(
                event=types.WorkspaceFoldersChangeEvent(added=added, removed=removed)
            )
        )

    assert not await found()
    change([folder], [])
    await until(found)
    change([], [folder])

    async def gone():
        return not await found()

    await until(gone)


# ------------------------------------------------------------------------------------------------ files outside


def changed(client, path, kind=types.FileChangeType.Changed):
    client.workspace_did_change_watched_files(
        types.DidChangeWatchedFilesParams(changes=[types.FileEvent(uri=path.as_uri(), type=kind)])
    )


@pytest.mark.asyncio
async def test_a_log_that_changes_outside_is_judged_anew_and_the_client_pulls_again(client: LanguageClient):
    document = Document(client, client.root / FINISHED)
    assert codes(await document.diagnostics()) == []
    log = client.root / "units/logs/KFT-0412-1-drying.csv"
    log.write_text(log.read_text() + "\n")
    changed(client, log)
    await until(lambda: client.diagnostic_refresh_count)
    # It is sealed, and its digest is another.
    assert "seal-broken" in codes(await document.diagnostics())


@pytest.mark.asyncio
async def test_a_register_that_changes_outside_counts_until_it_is_open(pushed: LanguageClient):
    plan, register, record = small_works(pushed)
    assert codes(await record.diagnostics()) == []
    # What is open wins over its file.
    register.path.write_text("register r\n")
    changed(pushed, register.path)
    record.put("unit T-1", "unit T-2")
    assert "unknown-person" not in codes(await record.diagnostics())
    pushed.text_document_did_close(types.DidCloseTextDocumentParams(text_document=register.id))
    await until(lambda: "unknown-person" in codes(pushed.published[record.uri][1]))
    assert plan.version == 1


# ------------------------------------------------------------------------------------------------ settings, log, trace, progress


@pytest.mark.asyncio
async def test_each_kind_of_hint_and_the_lenses_can_be_switched(client: LanguageClient):
    _, _, record = small_works(client)
    line = record.at("  loss").line

    async def words():
        hints = await client.text_document_inlay_hint_async(
            types.InlayHintParams(text_document=record.id, range=EVERYTHING)
        )
        return " · ".join(hint.label for hint in hints or [] if hint.position.line == line)

    async def set_to(settings, wanted):
        client.set_configuration({"stagebook": settings})
        client.workspace_did_change_configuration(types.DidChangeConfigurationParams(settings={}))

        async def as_wanted():
            return wanted(await words())

        await until(as_wanted)

    assert "≤ 3 kW" in await words() and "margin" not in await words()
    await set_to({"inlayHints": {"margin": True}}, lambda words: "margin 1 kW" in words)
    await set_to({"inlayHints": {"range": False}}, lambda words: "≤ 3 kW" not in words and "margin" not in words)
    off = {"range": False, "deviation": False, "corrected": False, "margin": False}
    await set_to({"inlayHints": off, "codeLens": False}, lambda words: words == "")
    lenses = await client.text_document_code_lens_async(types.CodeLensParams(text_document=record.id))
    assert not lenses


@pytest.mark.asyncio
async def test_the_log_follows_its_level_and_a_wrong_setting_is_told(client: LanguageClient):
    Document(client, client.root / UNIT)
    client.set_configuration({"stagebook": {"logLevel": "info", "codeLens": "often"}})
    client.workspace_did_change_configuration(types.DidChangeConfigurationParams(settings={}))

    def told():
        return [one for one in client.log_messages if "codeLens" in one.message]

    message = (await until(told))[0]
    assert message.type == types.MessageType.Warning and "stagebook.codeLens" in message.message


@pytest.mark.asyncio
async def test_what_is_done_is_traced_on_request(client: LanguageClient):
    traced = []

    @client.feature(types.LOG_TRACE)
    def take(ls, params: types.LogTraceParams):
        traced.append(params)

    document = Document(client, client.root / UNIT)
    await document.diagnostics()
    assert traced == []
    client.set_trace(types.SetTraceParams(value=types.TraceValue.Verbose))
    await hover(client, document, types.Position(0, 0))
    await until(lambda: any("textDocument/hover" in one.message and one.verbose for one in traced))
    client.set_trace(types.SetTraceParams(value=types.TraceValue.Off))
    await hover(client, document, types.Position(0, 0))
    count = len(traced)
    await hover(client, document, types.Position(0, 0))
    assert len(traced) == count


@pytest.mark.asyncio
async def test_a_large_folder_is_looked_through_with_progress(client: LanguageClient, tmp_path):
    other = tmp_path / "archive"
    other.mkdir()
    for number in range(600):
        (other / f"T-{number}.ubr").write_text(f"unit T-{number}\n  plan nowhere\n")
    client.workspace_did_change_workspace_folders(
        types.DidChangeWorkspaceFoldersParams(
            event=types.WorkspaceFoldersChangeEvent(
                added=[types.WorkspaceFolder(uri=other.as_uri(), name="archive")], removed=[]
            )
        )
    )

    def kinds():
        reports = next(iter(client.progress_reports.values()), [])
        found = [report.kind for report in reports]
        return found if found and found[-1] == "end" else None

    told = await until(kinds)
    assert told[0] == "begin" and "report" in told
