-- Types a new unit from an empty file to the end of its first three stages as a person would: what completion offers is
-- taken, only numbers, names and dates are typed. At the end the record must check without error or warning.
local typist = dofile(os.getenv('TESTS') .. '/typist.lua')
local lua, keys, fail, expect = typist.lua, typist.keys, typist.fail, typist.expect

local function mode()
  return lua([[return vim.api.nvim_get_mode().mode]])
end

local function at_the_end()
  return lua([[return vim.api.nvim_get_mode().mode:sub(1, 1) == 'i' and vim.fn.col('.') == vim.fn.col('$')]])
end

-- Types and waits until it stands there.
local function type_in(text)
  local before = typist.text()
  keys((text:gsub('<', '<lt>')))
  expect('`' .. text .. '` typed', function()
    return typist.text() ~= before
  end)
end

-- Takes an offer from the menu and waits until it stands in the text.
local function take(label)
  lua([[
    if not _G.expanded then
      local expand = vim.snippet.expand
      vim.snippet.expand = function(...)
        expand(...)
        _G.expanded = _G.expanded + 1
      end
    end
    _G.expanded = 0]])
  if lua([[return vim.fn.pumvisible()]]) == 1 then
    keys('<C-e>')
  end
  keys('<C-x><C-o>')
  local at, snippet = unpack(expect(label .. ' in the menu', function()
    return lua(
      [[
      for at, item in ipairs(vim.fn.complete_info({ 'items' }).items) do
        if item.abbr == ... then
          local own = vim.tbl_get(item, 'user_data', 'nvim', 'lsp', 'completion_item') or {}
          return { at, own.insertTextFormat == 2 }
        end
      end]],
      label
    )
  end))
  keys(('<Down>'):rep(at - 1) .. '<C-y>')
  expect(label .. ' in the text', function()
    return lua([[return vim.fn.pumvisible() == 0 and (not ... or _G.expanded == 1)]], snippet)
      or snippet and lua([[return _G.expanded == 1]])
  end)
end

-- Goes on to the next place of what was taken.
local function tab()
  local before = lua([[return vim.fn.getcurpos()]])
  keys('<Tab>')
  expect('the next place', function()
    local now = lua([[return { vim.fn.getcurpos(), vim.snippet.active() }]])
    return not vim.deep_equal(now[1], before) or not now[2]
  end)
end

-- Leaves what was taken, at its end, and begins a new line.
local function line()
  while not at_the_end() do
    tab()
  end
  local count = lua([[return vim.fn.line('$')]])
  keys('<CR>')
  expect('a new line', function()
    return lua([[return vim.fn.line('$')]]) > count
  end)
end

-- A value, and where it is not the unit that is proposed, its unit.
local function value(name, text, unit)
  take(name)
  type_in(text)
  if unit then
    tab()
    type_in(unit)
  end
  line()
end

-- Waits for the menu of a place with choices: it comes a moment after the cursor, and is not the menu of the server.
local function choices()
  expect('the choices', function()
    return lua([[
      local first = vim.fn.complete_info({ 'items' }).items[1]
      return vim.fn.pumvisible() == 1 and first ~= nil and type(first.user_data) ~= 'table']])
  end)
end

-- A value from the menu of its choices, of which the beginning is typed.
local function choice(name, beginning, whole)
  take(name)
  choices()
  type_in(beginning)
  keys('<C-y>')
  expect(whole .. ' chosen', function()
    return typist.current():find(' = ' .. whole .. '$') and lua([[return vim.fn.pumvisible()]]) == 0
  end)
  line()
end

-- The cells of the table that was taken, two blanks between them, then the line below it.
local function cells(text)
  local first = true
  for _, cell in ipairs(vim.split(text, '  ')) do
    if not first then
      tab()
    end
    type_in(cell)
    first = false
  end
  line()
end

-- A person or an instrument, by the beginning of the name.
local function whom(beginning, whole)
  type_in(beginning)
  expect(whole .. ' in the menu', function()
    return lua([[return vim.fn.pumvisible()]]) == 1
  end)
  keys('<C-y>')
  expect(whole .. ' in the text', function()
    return typist.current():find(whole, 1, true) and lua([[return vim.fn.pumvisible()]]) == 0
  end)
end

-- The instrument of the table just typed, of which several would fit.
local function read_with(name)
  keys('<Esc>')
  lua([[vim.fn.search('^  table', 'bW')]])
  keys('A')
  type_in('  with ')
  take(name)
  keys('<Esc>Go')
  expect('the line below', function()
    return mode() == 'i' and lua([[return vim.fn.line('.') == vim.fn.line('$')]])
  end)
end

-- The instrument of the reading just typed, of which several would fit, then a new line.
local function by_hand(name)
  while not at_the_end() do
    tab()
  end
  type_in('  with ')
  take(name)
  line()
end

-- Out of the indentation to where a stage begins.
local function out()
  keys('<Esc>')
  expect('out of the line', function()
    return mode() == 'n'
  end)
  keys('cc')
  expect('the line anew', function()
    return mode() == 'i'
  end)
  keys('<C-u>')
  expect('the beginning of the line', function()
    return typist.current() == ''
  end)
end

local function stage(name, day, beginning, person)
  out()
  take('stage ' .. name)
  take('on')
  type_in(day)
  tab()
  whom(beginning, person)
  line()
end

local function release(point, beginning, person, when)
  take('release ' .. point)
  whom(beginning, person)
  tab()
  type_in(when)
  line()
end

typist.open('units/KFT-0600-1.ubr')
-- Hints and colours are asked for after each change and have a test of their own.
lua([[
  vim.lsp.inlay_hint.enable(false)
  for _, client in ipairs(vim.lsp.get_clients({ bufnr = 0 })) do
    vim.lsp.semantic_tokens.stop(0, client.id)
  end]])
keys('i')
take('unit')
tab()
type_in('40 MVA 110/20 kV, Harrow Vale substation')
tab()
choices()
type_in('kestrel-ford')
keys('<C-y>')
expect('the plan of the works', function()
  return typist.current() == '  plan kestrel-ford' and lua([[return vim.fn.pumvisible()]]) == 0
end)
tab()
tab()

take('design')
type_in('D')
tab()
type_in('2026-01-19')
tab()
whom('A.B', 'A.Brandt')
tab()
value('rated-power', '40')
value('frequency', '50')
value('vector-group', 'YNd11')
value('phases', 'U, V, W')
value('windings', 'HV, LV')
value('pairs', 'HV-LV')
take('table winding')
cells('110  40  123  880  copper  849.0  20  40  24  277  copper  623.0')
take('table winding')
cells('235  1.72414e-8  70.0  1640 mm +- 6 mm  235  1.72414e-8  222.0  1636 mm +- 6 mm')
take('table winding')
cells('1612 mm +3/-0 mm  168  140  1612 mm +3/-0 mm  144  50')
value('upper[HV-LV]', 'HV')
value('lower[HV-LV]', 'LV')
value('impedance[HV-LV]', '12.84')
value('pair-power[HV-LV]', '40')
value('reference-temperature', '75')
value('taps', '1 .. 17')
value('tap-positions', '17')
value('principal-tap', '9')
value('tap-step', '1.25 %')
value('tap-turns', '11')
choice('tapped-winding', 'HV', 'HV')
choice('first-position', 'most', 'most%-turns')
choice('tap-changer', 'on', 'on%-load')
choice('tapping-arrangement', 'rev', 'reversing')
choice('tapping-end', 'neu', 'neutral%-end')
choice('core-form', 'three', 'three%-limb')
value('core-section', '193500')
value('core-stack', '498', 'mm +2/-1 mm')
value('core-diameter', '530', 'mm +0/-3 mm')
value('core-mass', '17402')
value('flux-density', '1.679')
value('steel-loss-limit', '1.00')
value('ducts', 'core-LV, LV-HV')
take('table duct')
cells('17.5  49')
value('gaps', 'HV-lead-to-tank, winding-to-tank')
take('table gap')
cells('180  140')
value('insulation-paths', 'HV-to-rest, LV-to-rest, both-to-earth')
value('insulation-mass', '4.1', 't')
value('clamping-force', '312')
choice('drying-method', 'vap', 'vapour%-phase')
value('bushings', '1U, 1V, 1W, 1N, 2U, 2V, 2W')
take('table bushing')
cells('100  100  100  100  100  100  100')
value('condenser-bushings', '1U, 1V, 1W')
value('current-transformers', 'T1U, T2N')
take('table current-transformer')
cells('300  0.01  1200  0.01')
value('accessories', 'gas-relay, conservator, breather')
choice('cooling', 'ONAF', 'ONAF')
value('tank-gas-volume', '24')
value('oil-mass', '18.6', 't')
value('air-gaps', '1U-to-1V, 2U-to-radiators')
take('table air-gap')
cells('1100  220')
value('altitude', '320', 'm')
value('standing-time', '48', 'h')
value('wall-length', '2.4', 'm')
value('without-terminals', 'none')
choice('test-winding', 'LV', 'LV')
value('discharge-terminals', '1U, 1V, 1W')
value('special-tests', 'sound-test')
value('oil-exponent', '0.9')
value('winding-exponent', '1.6')
value('response-curves', 'HV-U, LV-U')
choice('shipped-gas-filled', 'yes', 'yes')
value('transport-mass', '46.5', 't')
value('coldest-transport', '-15')
value('hottest-transport', '45')
value('shock-recorders', 'front, rear')
value('crates', 'C1, C2')
value('regulating-turns', '88')
value('lightning-impulse[HV]', '550')
value('lightning-impulse[LV]', '125')
value('impedance-at-end[HV-LV, first]', '13.42')
value('impedance-at-end[HV-LV, last]', '12.39')

stage('winding', '2026-02-18', 'J.L', 'J.Lindqvist')
take('table turns')
expect('the only counter proposed', function()
  return typist.text():find('table turns  with TC-2', 1, true)
end)
tab()
cells('880  880  880  277  277  277')
take('table turns-second-count')
tab()
whom('S.R', 'S.Rao')
tab()
cells('880  880  880  277  277  277')
take('table regulating-turns')
tab()
cells('88  88  88')
take('table inner-diameter')
tab()
cells('779.7  779.7  779.3  565.5  565.0  565.2')
read_with('TP-11')
take('table outer-diameter')
expect('the tape that the stage names already', function()
  return typist.text():find('table outer-diameter(mm)  with TP-11', 1, true)
end)
tab()
tab()
cells('919.7  918.1  919.6  680.9  679.9  681.5')
take('table height')
tab()
cells('1638.3  1642.2  1640.6  1634.1  1636.3  1637.8')
take('table ducts-free')
cells('yes  yes  yes  yes  yes  yes')
take('table insulation-intact')
cells('yes  yes  yes  yes  yes  yes')
take('table joints')
tab()
cells('2  2  2  0  0  0')
take('on')
type_in('2026-02-19 09:30')
tab()
whom('L.N', 'L.Novak')
line()
take('table strand-insulation')
type_in('500')
tab()
type_in('V')
tab()
tab()
cells('189  229  189  135  143  119')
take('table conductor-resistance')
tab()
type_in('18.4')
tab()
cells('573.9  575.6  573.0  42.007  41.749  41.772')
read_with('MR-04')
release('H10', 'M.O', 'M.Okafor', '2026-02-19 15:40')

stage('winding-pressing', '2026-02-25', 'S.R', 'S.Rao')
take('table dried')
cells('yes  yes  yes  yes  yes  yes')
take('table impregnated')
cells('yes  yes  yes  yes  yes  yes')
take('table jack-pressure')
type_in('bar')
tab()
cells('73.4  75.2  75.4  63.4  64.9  64.4')
read_with('PG-7')
take('jack-diameter')
type_in('60')
by_hand('MM-3')
value('jack-count', '8')
take('table pressed-height')
cells('1613.5  1614.0  1613.0  1614.0  1612.5  1614.0')
read_with('TP-11')
take('table shims')
expect('the only gauge that measures below zero', function()
  return typist.text():find('table shims(mm)  with MM-3', 1, true)
end)
tab()
cells('0.0  2.0  0.0  2.0  2.0  2.0')
release('H20', 'M.O', 'M.Okafor', '2026-02-25 16:20')

stage('core', '2026-03-04', 'J.L', 'J.Lindqvist')
take('steel-loss')
type_in('0.96')
by_hand('EP-1')
take('burr')
type_in('0.016')
by_hand('MM-3')
take('table insulation-while-stacking')
type_in('500')
tab()
type_in('V')
tab()
tab()
cells('83  78  68')
take('table stack-thickness')
tab()
cells('498.2  498.3  497.8')
take('table limb-diameter')
tab()
cells('528.1  528.6  529.2')
take('window-diagonal-difference')
type_in('2.0')
by_hand('TP-11')
take('table limb-tilt')
cells('0.03  0.07  0.03')
read_with('IN-1')
take('joint-gap')
type_in('0.6')
by_hand('MM-3')
take('core-mass')
type_in('17.34')
tab()
type_in('t')
by_hand('SC-1')
take('core-frame-insulation')
type_in('80')
tab()
type_in('500')
tab()
type_in('V')
line()
release('H30', 'D.Q', 'D.Quill', '2026-03-04 15:05')

-- What stands there now is written and checked as any record.
typist.command('stopinsert | write')
local record = os.getenv('WORKS') .. '/units/KFT-0600-1.ubr'
local said = vim.system({ os.getenv('SERVER'), 'check', '--as', 'json', '--today', '2026-07-31', record }):wait()
local judged = vim.json.decode(said.stdout)
for _, finding in ipairs(judged.findings) do
  if finding.severity == 'error' or finding.severity == 'warning' then
    fail(vim.inspect(finding) .. typist.text())
  end
end
-- Three stages stand: their points are released, and nothing of them is left to be recorded.
for _, finding in ipairs(judged.findings) do
  if finding.rule == 'pending' then
    fail('nothing left open in a stage that has begun: ' .. finding.message)
  end
end
local unit = judged.units[1]
local done = vim.iter(unit.points):fold(0, function(count, point)
  return count + (point.state == 'done' and 1 or 0)
end)
if unit.stage_reached ~= 'core' or done ~= 3 or unit.counts.recorded < 100 then
  fail('three stages: ' .. vim.inspect(unit))
end
print(('Neovim: a unit typed from an empty file to the end of its third stage, %d steps as expected'):format(typist.finish()))
os.exit(0)
