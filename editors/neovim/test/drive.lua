-- Goes through the features on a record with faults and asserts on what Neovim shows.
local typist = dofile(os.getenv('TESTS') .. '/typist.lua')
local lua, command, keys, fail, expect = typist.lua, typist.command, typist.keys, typist.fail, typist.expect
local text, current, open = typist.text, typist.current, typist.open
local works = os.getenv('WORKS')

local function diagnostics(code)
  return lua([[
    local found = {}
    for _, one in ipairs(vim.diagnostic.get(0)) do
      if one.code == ... then
        local line = vim.api.nvim_buf_get_lines(one.bufnr, one.lnum, one.lnum + 1, false)[1] or ''
        local stop = one.end_lnum == one.lnum and one.end_col or #line
        table.insert(found, { line = one.lnum + 1, text = line:sub(one.col + 1, stop), message = one.message })
      end
    end
    return found]], code)
end

local function seek(pattern)
  command('stopinsert')
  lua([[vim.fn.cursor(1, 1); assert(vim.fn.search(..., 'cW') > 0, 'not in the text: ' .. ...)]], '\\V' .. pattern)
end

-- A record with faults, behind signs of every width.
local record = works .. '/units/KFT-0500-1.ubr'
local lines = vim.fn.readfile(works .. '/units/KFT-0415-1.ubr')
local at
for number, line in ipairs(lines) do
  if line:match('^stage connections') then
    at = number
  end
end
assert(at, 'the example has the stage')
table.insert(lines, at + 1, '  insulation-60s[HV-to-rest] = 4,2 Gohm  at 21 °C  with XX-99  # Ω😀')
lines = vim.tbl_map(function(line)
  return (line:gsub('KFT%-0415%-1', 'KFT-0500-1'))
end, lines)
vim.fn.writefile(lines, record)

open('units/KFT-0500-1.ubr')
expect('the file type', function()
  return lua([[return vim.bo.filetype]]) == 'ubr'
end)
local unknown = expect('the unknown instrument, found where it stands', function()
  return diagnostics('unknown-instrument')[1]
end)
if unknown.text ~= 'XX-99' or unknown.line ~= at + 1 then
  fail('the place of the unknown instrument: ' .. vim.inspect(unknown))
end
local comma = expect('the decimal comma', function()
  return diagnostics('decimal-comma')[1]
end)
if not comma.text:find('4,2', 1, true) then
  fail('the place of the decimal comma: ' .. vim.inspect(comma))
end

-- A fix, applied as a person does.
seek('4,2 Gohm')
lua([[vim.lsp.buf.code_action({ apply = true, filter = function(action)
  return action.isPreferred or (action.kind or '') == 'quickfix' and action.title:find('4.2', 1, true) end })]])
expect('the decimal point', function()
  return text():find('= 4.2 Gohm', 1, true)
end)
expect('the finding gone', function()
  return #diagnostics('decimal-comma') == 0
end)

-- Hover.
seek('insulation-60s')
lua([[vim.lsp.buf.hover()]])
local page = expect('a page under the cursor', function()
  return lua([[
    for _, window in ipairs(vim.api.nvim_list_wins()) do
      if vim.api.nvim_win_get_config(window).relative ~= '' then
        return table.concat(vim.api.nvim_buf_get_lines(vim.api.nvim_win_get_buf(window), 0, -1, false), '\n')
      end
    end]])
end)
if not page:find('insulation-60s', 1, true) then
  fail('hover: ' .. page)
end
command('normal! l')

-- Completion while typing, from the menu into the text.
seek('insulation-60s')
keys('orelease H50 by M.')
expect('the person in the menu', function()
  return lua([[local items = vim.fn.complete_info({ 'items' }).items
    return vim.fn.pumvisible() == 1 and #items == 1 and items[1].abbr == 'M.Okafor']])
end)
keys('<C-y>')
expect('the person whose role it is', function()
  return current() == '  release H50 by M.Okafor'
end)
keys('<Esc>')
command('normal! dd')

-- Definition, in the register.
seek('by L.Novak')
command('normal! 4l')
lua([[vim.lsp.buf.definition()]])
expect('the person in the register', function()
  return lua([[return vim.api.nvim_buf_get_name(0)]]):find('register.ubr', 1, true) and current():find('person L.Novak', 1, true)
end)
command('edit ' .. record)

-- Hints and colours.
expect('hints behind readings', function()
  return lua([[return #vim.lsp.inlay_hint.get({ bufnr = 0 }) > 0]])
end)
expect('colours by meaning', function()
  return lua([[
    vim.fn.cursor(1, 1)
    local row = vim.fn.search('\\V  turns', 'cW') - 1
    local line = vim.api.nvim_buf_get_lines(0, row, row + 1, false)[1] or ''
    return #(vim.lsp.semantic_tokens.get_at_pos(0, row, (line:find('%S') or 1) - 1) or {}) > 0
      or #(vim.lsp.semantic_tokens.get_at_pos(0, 1, 2) or {}) > 0]])
end)

-- A plan that is edited and not saved judges the open record anew.
local before = #diagnostics('out-of-limit')
lua([[vim.g.record = vim.api.nvim_get_current_buf()]])
open('plan.ubr')
seek('limit <= 110 %')
lua([[vim.api.nvim_set_current_line('    limit <= 1 %')]])
command('buffer ' .. lua([[return vim.g.record]]))
seek('stage connections')
keys('ojoint-resistance[HV, U] = 104 %  with MR-04  by L.Novak  on 2026-03-30<Esc>')
expect('the reading against the edited limit', function()
  return #diagnostics('out-of-limit') == before + 1
end)

-- What a built-in plan declares is not renamed, and the reason is told.
seek('insulation-60s')
lua([[vim.lsp.buf.rename('other')]])
expect('why it is not renamed', function()
  return lua([[return vim.fn.execute('messages')]]):find('built-in plan', 1, true)
end)

-- Formatting.
seek('joint-resistance[HV, U]')
lua([[vim.api.nvim_set_current_line('   joint-resistance[HV, U]    =  104 %  with MR-04  by L.Novak  on 2026-03-30   ')]])
lua([[vim.lsp.buf.format()]])
expect('the line in the layout of the language', function()
  return text():find('\n  joint%-resistance%[HV, U%] += 104 %%  with MR%-04  by L.Novak  on 2026%-03%-30\n')
end)

print(('Neovim: %d things as expected'):format(typist.finish()))
os.exit(0)
