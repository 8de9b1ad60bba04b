"""What the language server does so that a record is typed without friction: what is proposed, what is left to say.

The client, the small works and their documents are those of language_server.py. Run by tests/external_server.rs.
"""

import pathlib

import pytest
import pytest_lsp
from lsprotocol import types
from pytest_lsp import ClientServerConfig, LanguageClient

# The fixtures are found by their names here.
from language_server import (  # noqa: F401
    FINISHED,
    PROGRAM,
    TODAY,
    UNIT,
    Document,
    begin,
    client,
    codes,
    complete,
    copy_of_the_works,
    make_client,
    own_capabilities,
    small_works,
)

EVERYTHING = types.Range(start=types.Position(0, 0), end=types.Position(100_000, 0))
HEAD = "unit KFT-0500-1\n  plan kestrel-ford\n  register kestrel-ford\n\n"


def plain_capabilities(modes):
    """Those of a client that inserts no snippets."""
    capabilities = own_capabilities()
    item = capabilities.text_document.completion.completion_item
    item.snippet_support = False
    item.insert_text_mode_support = modes and types.ClientCompletionItemInsertTextModeOptions(value_set=modes)
    return capabilities


@pytest_lsp.fixture(
    params=[[types.InsertTextMode.AsIs, types.InsertTextMode.AdjustIndentation], None],
    config=ClientServerConfig(server_command=[PROGRAM, "lsp", "--today", TODAY], client_factory=make_client),
)
async def plain(request, lsp_client: LanguageClient, tmp_path):
    await begin(lsp_client, copy_of_the_works(tmp_path), plain_capabilities(request.param))
    lsp_client.modes = request.param
    yield
    await lsp_client.shutdown_session()


def design_of(path: pathlib.Path) -> str:
    text = path.read_text(encoding="utf-8")
    return text[text.index("\ndesign") + 1 : text.index("\nstage winding")] + "\n"


async def offered(client, text, typed="") -> dict[str, types.CompletionItem]:
    """What is offered at the end of a text, by label."""
    path = client.root / "units/KFT-0500-1.ubr"
    document = Document(client, path, text + typed)
    items = await complete(client, document, document.position(len(document.text)))
    client.text_document_did_close(types.DidCloseTextDocumentParams(text_document=document.id))
    return {item.label: item for item in sorted(items, key=lambda item: item.sort_text)}


def stage(client, lines="  on 2026-02-18 by J.Lindqvist\n") -> str:
    return HEAD + design_of(client.root / FINISHED) + "stage winding\n" + lines


# ------------------------------------------------------------------------------------- without snippets


@pytest.mark.asyncio
async def test_plain_text_is_indented_like_its_line(plain: LanguageClient):
    items = await offered(plain, stage(plain), "  ")
    turns = items["table turns"]
    assert turns.text_edit.new_text == "table turns\n    winding  U  V  W\n    HV       ?  ?  ?\n    LV       ?  ?  ?"
    assert turns.insert_text_mode == (plain.modes and types.InsertTextMode.AsIs)
    assert turns.insert_text_format is None
    # What nobody has confirmed is not inserted: no instrument, no answer, no choice.
    assert items["insulation-intact[HV, U]"].text_edit.new_text == "insulation-intact[HV, U] = ?"
    assert items["height[HV, U]"].text_edit.new_text == "height[HV, U] =  mm"
    assert items["note"].insert_text_mode is None


# ------------------------------------------------------------------------------------- what is proposed


@pytest.mark.asyncio
async def test_the_instrument_that_is_meant_without_doubt_is_proposed(client: LanguageClient):
    items = await offered(client, stage(client), "  ")
    text = {label: item.text_edit.new_text for label, item in items.items()}
    assert text["table turns"].startswith("table turns  ${1:with TC-2}\n  winding  U  V  W\n  HV       ${2:?}")
    # Of two resistance meters only one has the limit in its range; its voltage is read in V or kV.
    assert text["table strand-insulation"].startswith(
        "table strand-insulation(Mohm)  at ${1} ${2:kV}  ${3:with IR-5}\n"
    )
    # Who counts the second time is somebody else.
    assert "  ${1:with TC-2}  by ${2}\n" in text["table turns-second-count"]
    # Several tapes measure a length, until one of them is named.
    assert "with" not in text["table height"]
    said = stage(client, "  on 2026-02-18 by J.Lindqvist\n  height[HV, U] = 1640 mm  with TP-11\n")
    again = (await offered(client, said, "  "))["table outer-diameter"].text_edit.new_text
    assert again.startswith("table outer-diameter(${1:mm})  ${2:with TP-11}\n")
    # A single reading is too unlike the others.
    said = stage(client, "  on 2026-02-18 by J.Lindqvist\n").replace("stage winding\n", "stage core\n")
    said += "  window-diagonal-difference = 2.0 mm  with TP-11\n"
    gap = (await offered(client, said, "  "))["joint-gap"].text_edit.new_text
    assert gap == "joint-gap = ${1} mm"
    # A limit that is a bare number gives no unit.
    loss = (await offered(client, said, "  "))["steel-loss"].text_edit.new_text
    assert loss == "steel-loss = ${1:?}"
    # What measured another property in this stage is not meant, although it measures the kind.
    said = stage(client, "  on 2026-02-18 by L.Novak\n  strand-insulation[HV, U] = 189 Mohm  at 500 V  with IR-5\n")
    other = (await offered(client, said, "  "))["table conductor-resistance"].text_edit.new_text
    assert other.startswith("table conductor-resistance(${1:mohm})  at ${2} °C\n")
    # The stage names one for all that follows.
    said = stage(client, "  on 2026-02-18 by J.Lindqvist with TC-2\n")
    assert (await offered(client, said, "  "))["table turns"].text_edit.new_text.startswith("table turns\n")
    # On a day on which it is in calibration no more there is none to propose.
    said = stage(client, "  on 2026-11-20 by J.Lindqvist\n")
    assert (await offered(client, said, "  "))["table turns"].text_edit.new_text.startswith("table turns\n")


@pytest.mark.asyncio
async def test_instruments_are_told_whose_range_does_not_fit(client: LanguageClient):
    items = await offered(client, stage(client), "  strand-insulation[HV, U] = 4 Mohm  at 500 V  with ")
    assert list(items) == ["IR-5", "MR-04"]
    # What the stage names already comes first.
    said = stage(client, "  on 2026-02-18 by J.Lindqvist\n  height[HV, U] = 1640 mm  with TP-11\n")
    items = await offered(client, said, "  height[HV, V] = 1640 mm  with ")
    assert list(items)[:2] == ["TP-11", "MM-3"]


@pytest.mark.asyncio
async def test_whole_tables_come_first_then_acts_then_single_readings(client: LanguageClient):
    labels = list(await offered(client, stage(client), "  "))
    tables = [labels.index(label) for label in labels if label.startswith("table ")]
    assert max(tables) < labels.index("release H10") < labels.index("turns[HV, U]")
    # The name of a reading finds its table too.
    table = (await offered(client, stage(client), "  "))["table joints"]
    assert table.filter_text.startswith("joints ")
    named = await offered(client, stage(client), "  table ")
    assert named["joints"].text_edit.new_text.endswith("\n  LV       ${5:?}  ${6:?}  ${7:?}")


@pytest.mark.asyncio
async def test_behind_a_complete_table_the_stage_goes_on(client: LanguageClient):
    rows = "  on 2026-02-18 by J.Lindqvist\n  table turns\n    winding  U  V  W\n    HV  880  880  880\n"
    inside = await offered(client, stage(client, rows), "    ")
    assert list(inside)[0] == "LV" and "release H10" not in inside
    rows += "    LV  277  277  277\n"
    behind = await offered(client, stage(client, rows), "    ")
    joints = behind["table joints"]
    # It replaces the blanks of the line, so it brings its own.
    assert joints.text_edit.range.start.character == 0
    assert joints.text_edit.new_text.startswith("  table joints") and "\n    winding" in joints.text_edit.new_text
    assert joints.filter_text.startswith("    joints")


@pytest.mark.asyncio
async def test_the_design_is_offered_as_tables_and_with_the_names_that_it_has(client: LanguageClient):
    text = HEAD + "design rev A on 2026-01-19\n"
    first = await offered(client, text, "  ")
    assert list(first)[0] == "rated-power" and "table winding" not in first
    # The unit is a stop of its own: it may be given in another.
    assert first["rated-power"].text_edit.new_text == "rated-power = ${1} ${2:MVA}"
    assert first["tap-changer"].text_edit.new_text == "tap-changer = ${1|?,on-load,off-circuit,none|}"
    # A ratio is as often a number as a share.
    assert first["tap-step"].text_edit.new_text == "tap-step = ${1:?}"
    text += "  windings = HV, LV\n  pairs = HV-LV\n"
    items = await offered(client, text, "  ")
    assert items["table winding"].text_edit.new_text.startswith(
        "table\n  winding  rated-voltage(kV)  winding-power(MVA)  highest-voltage(kV)  turns  "
    )
    assert items["tapped-winding"].text_edit.new_text == "tapped-winding = ${1|?,HV,LV|}"
    assert items["upper[HV-LV]"].text_edit.new_text == "upper[HV-LV] = ${1:?}"
    assert {"lightning-impulse[HV]", "lightning-impulse[LV]"} <= set(items)
    assert list(await offered(client, text, "  tapped-winding = "))[:2] == ["HV", "LV"]
    # A cell may have its own unit; a number waits for it.
    cell = await offered(client, text, "  table\n    winding  rated-voltage\n    HV       110 ")
    assert list(cell)[0] == "kV"
    # A list goes on behind its comma, and a design value has no instrument.
    assert not await offered(client, text, "  phases = U, ")
    head = await offered(client, HEAD, "design rev A ")
    assert list(head) == ["on", "by"]


@pytest.mark.asyncio
async def test_what_stands_at_the_top_is_parted_by_a_blank_line(client: LanguageClient):
    design = HEAD + design_of(client.root / FINISHED).rstrip("\n")
    assert (await offered(client, design + "\n"))["stage winding"].text_edit.new_text == "\nstage winding\n  $0"
    assert (await offered(client, design + "\n\n"))["stage winding"].text_edit.new_text == "stage winding\n  $0"


# ------------------------------------------------------------------------------------------- what is told


@pytest.mark.asyncio
async def test_a_unit_whose_number_is_still_to_come_is_one_finding_and_stays_pending(client: LanguageClient):
    _, _, record = small_works(client)
    record.put("  release H1 by A.Bee on 2026-02-02\n", "")
    record.put("loss = 2 kW", "loss =  kW")
    found = await record.diagnostics()
    of_line = [one for one in found if one.range.start.line == record.at("loss =").line]
    assert codes(of_line) == ["number-missing"] and record.slice(of_line[0].range) == "kW"
    assert any("loss" in one.message for one in found if one.code == "pending"), found
    hints = await client.text_document_inlay_hint_async(
        types.InlayHintParams(text_document=record.id, range=EVERYTHING)
    )
    assert not [hint for hint in hints if hint.position.line == record.at("loss =").line]


@pytest.mark.asyncio
async def test_a_hint_does_not_repeat_the_value(client: LanguageClient):
    document = Document(client, client.root / FINISHED)
    line = document.at("tools-counted").line
    assert "= yes" in document.text.split("\n")[line]
    hints = await client.text_document_inlay_hint_async(
        types.InlayHintParams(text_document=document.id, range=EVERYTHING)
    )
    assert hints and not [hint.label for hint in hints if hint.position.line == line]


@pytest.mark.asyncio
async def test_the_outline_has_the_stages_that_have_not_begun(client: LanguageClient):
    document = Document(client, client.root / UNIT)
    symbols = await client.text_document_document_symbol_async(types.DocumentSymbolParams(text_document=document.id))
    stages = [symbol for symbol in symbols if symbol.name.startswith("stage ")]
    open_stages = [symbol for symbol in stages if symbol.detail.startswith("not started")]
    assert "stage dispatch" in [symbol.name for symbol in open_stages]
    assert len({symbol.name for symbol in stages}) == len(stages)
    # They stand where the next line will be written.
    end = document.position(len(document.text))
    assert all(symbol.range.start == symbol.range.end == end for symbol in open_stages)
    found = await client.workspace_symbol_async(types.WorkspaceSymbolParams(query="stage dispatch"))
    assert not [symbol for symbol in found if symbol.location.uri == document.uri]


@pytest.mark.asyncio
async def test_right_behind_a_name_that_name_is_meant(client: LanguageClient):
    _, _, record = small_works(client)
    for needle, name in [("loss =", "loss"), ("stage tests", "stage tests"), ("resistance(", "resistance")]:
        prepared = await client.text_document_prepare_rename_async(
            types.PrepareRenameParams(text_document=record.id, position=record.at(needle, len(name)))
        )
        assert name.endswith(prepared.placeholder), needle


@pytest.mark.asyncio
async def test_the_word_of_a_statement_shows_those_beside_it(client: LanguageClient):
    document = Document(client, client.root / FINISHED)

    async def words(position):
        found = await client.text_document_document_highlight_async(
            types.DocumentHighlightParams(text_document=document.id, position=position)
        )
        return [document.slice(one.range) for one in found or []]

    stages = await words(document.at("\nstage winding", 3))
    assert set(stages) == {"stage"} and len(stages) == document.text.count("\nstage ")
    winding = document.text[document.text.index("\nstage winding") : document.text.index("\nstage winding-pressing")]
    tables = await words(document.at("  table turns", 4))
    assert set(tables) == {"table"} and len(tables) == winding.count("\n  table")
    # A clause is no statement.
    assert await words(document.at(" with TC-2", 2)) == []


@pytest.mark.asyncio
async def test_a_reading_that_fails_shows_its_own_limit_first(client: LanguageClient):
    plan, _, record = small_works(client)
    plan.put("    limit <= 3 kW\n", "    limit <= 3 kW\n    limit >= 1 kW\n    limit <= 1.5 kW\n")
    answer = await client.text_document_hover_async(
        types.HoverParams(text_document=record.id, position=record.at("2 kW"))
    )
    text = answer.contents.value.replace("\\", "")
    allowed = [line for line in text.splitlines() if line.startswith("- allowed")]
    assert [line.split("**")[1] for line in allowed] == ["≤ 1.5 kW", "≤ 3 kW", "≥ 1 kW"]
    assert "margin -0.5 kW" in allowed[0] and text.index("**`loss`** = 2 kW") < text.index("- allowed")


@pytest.mark.asyncio
async def test_related_places_leave_room_for_the_reading(client: LanguageClient):
    document = Document(client, client.root / FINISHED)
    document.put("    HV-LV   9   3.1771", "    HV-LV   9   3.2771")
    found = [one for one in await document.diagnostics() if one.related_information]
    assert found and max(len(one.related_information) for one in found) == 6
