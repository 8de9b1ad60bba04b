"""What the language server offers to do to a text, driven by an independent client: each action before and after.

The client, the small works and their documents are those of language_server.py. Run by tests/external_server.rs.
"""

import pytest
from lsprotocol import types
from pytest_lsp import LanguageClient

# The fixtures are found by their names here.
from language_server import (  # noqa: F401
    REGISTER,
    TODAY,
    Document,
    actions,
    client,
    codes,
    edits_of,
    encoded,
    small_works,
)


async def whole(client, document, kind):
    return await actions(client, document, types.Position(0, 0), [kind])


@pytest.mark.asyncio
async def test_all_faults_of_notation_of_every_kind(encoded: LanguageClient):
    _, _, record = small_works(encoded)
    # One of them comes to light only against the plan, one only when another is mended.
    record.put("  loss = 2 kW", "\tloss = 2,5kW # °😀\n\tnote \"3kW\"")
    record.put("    1  2\n", "    1,5  2,25\n")
    found = await whole(encoded, record, "source.fixAll")
    record.apply(edits_of(found["Mend all faults of notation"], record))
    assert "  loss = 2.5 kW # °😀\n  note \"3kW\"\n" in record.text and "    1.5  2.25\n" in record.text
    notation = {"tab-indentation", "decimal-comma", "unit-space-missing"}
    assert not notation & set(codes(await record.diagnostics()))
    assert await whole(encoded, record, "source.fixAll") == {}


@pytest.mark.asyncio
async def test_what_is_sealed_keeps_its_notation(client: LanguageClient):
    document = Document(client, client.root / "units/KFT-0412-1.ubr")
    document.put("oxygen-at-entry  = 20.8 %", "oxygen-at-entry = 20,8 %")
    found = [one for one in await document.diagnostics() if one.code == "decimal-comma"]
    assert found
    assert "Write the decimal point" not in await actions(client, document, found[0].range.start)
    assert await whole(client, document, "source.fixAll") == {}
    # Work that goes on in a stage without a seal is free.
    document = Document(client, client.root / "units/KFT-0415-1.ubr")
    assert "    seal " in document.text
    line = document.text.index("\n", document.text.index("stage connections")) + 1
    document.replace(line, line, "  insulation-60s[HV-to-rest] = 4,2 Gohm at 5 kV\n")
    found = [one for one in await document.diagnostics() if one.code == "decimal-comma"]
    assert "Write the decimal point" in await actions(client, document, found[0].range.start)
    mended = await whole(client, document, "source.fixAll")
    document.apply(edits_of(mended["Mend all faults of notation"], document))
    assert "= 4.2 Gohm at 5 kV\n" in document.text


@pytest.mark.asyncio
async def test_a_register_is_put_in_order(client: LanguageClient):
    _, register, record = small_works(client)
    tail = "# the apprentice\nperson A.Ant \"Ann\"\n  roles quality\n"
    register.replace(len(register.text), len(register.text), tail)
    assert await actions(client, register, types.Position(0, 0)) == {}
    found = await whole(client, register, "source.organize")
    register.apply(edits_of(found["Put people and instruments in order"], register))
    bee, rest = REGISTER.index("person A.Bee"), REGISTER.index("instrument")
    assert register.text == REGISTER[:bee] + tail + REGISTER[bee:rest] + REGISTER[rest:]
    assert await whole(client, register, "source.organize") == {}
    assert codes(await register.diagnostics()) == [] and codes(await record.diagnostics()) == []
    assert await whole(client, record, "source.organize") == {}


@pytest.mark.asyncio
async def test_the_works_are_judged_the_same_by_a_register_put_in_order(client: LanguageClient):
    document = Document(client, client.root / "units/KFT-0412-1.ubr")
    register = Document(client, client.root / "register.ubr")
    found = await whole(client, register, "source.organize")
    register.apply(edits_of(found["Put people and instruments in order"], register))
    assert register.text.index("person A.Brandt") < register.text.index("person M.Okafor")
    assert codes(await document.diagnostics()) == [] and codes(await register.diagnostics()) == []


@pytest.mark.asyncio
async def test_a_broken_register_is_not_put_in_order(client: LanguageClient):
    _, register, _ = small_works(client)
    register.replace(len(register.text), len(register.text), "person A.Ant \"Ann\"\n  rolls ??\n")
    found = await whole(client, register, "source.organize")
    assert all(action.edit is None and "mend it first" in action.disabled.reason for action in found.values())
