-- A second Neovim, typed into as a person would and asked for what it shows. `dofile` gives its functions.
local typist = {}
local editor = vim.fn.jobstart({ os.getenv('NVIM_PROGRAM'), '--embed', '--headless' }, { rpc = true })
local checks = 0

function typist.lua(code, ...)
  return vim.rpcrequest(editor, 'nvim_exec_lua', code, { ... })
end

function typist.command(text)
  vim.rpcrequest(editor, 'nvim_command', text)
end

function typist.keys(text)
  vim.rpcrequest(editor, 'nvim_input', text)
end

function typist.fail(message)
  io.stderr:write('not as expected: ' .. message .. '\n')
  local ok, shown = pcall(typist.lua, [[
    local found = vim.tbl_map(function(one) return one.lnum + 1 .. ': ' .. one.message end, vim.diagnostic.get(0))
    return vim.inspect({ vim.api.nvim_buf_get_name(0), vim.api.nvim_get_current_line(), vim.api.nvim_get_mode().mode,
      vim.tbl_map(function(item) return item.abbr end, vim.fn.complete_info({ 'items' }).items), found, vim.fn.execute('messages') })]])
  io.stderr:write(ok and shown .. '\n' or '')
  vim.fn.jobstop(editor)
  os.exit(1)
end

-- Waits until something holds, at most 20 s: a guard against hanging, not a measure of speed.
function typist.expect(what, holds)
  local value
  local came = vim.wait(20000, function()
    value = holds()
    return value and value ~= vim.NIL
  end, 5)
  if not came then
    typist.fail(what)
  end
  checks = checks + 1
  return value
end

function typist.text()
  return table.concat(vim.rpcrequest(editor, 'nvim_buf_get_lines', 0, 0, -1, false), '\n')
end

function typist.current()
  return vim.rpcrequest(editor, 'nvim_get_current_line')
end

function typist.open(name)
  typist.command('edit ' .. os.getenv('WORKS') .. '/' .. name)
  typist.expect('the server at work on ' .. name, function()
    return typist.lua([[return #vim.lsp.get_clients({ bufnr = 0 }) > 0]])
  end)
end

-- Ends the second Neovim; nothing of it may be left behind.
function typist.finish()
  -- The children of the editor, taken while it runs: a name in the list of processes may be short.
  local servers = typist.lua([[return vim.api.nvim_get_proc_children(vim.fn.getpid())]])
  if #servers == 0 then
    typist.fail('no server runs before the editor ends')
  end
  pcall(typist.command, 'qall!')
  local gone = vim.wait(20000, function()
    return vim.iter(servers):all(function(process)
      return not vim.uv.fs_stat('/proc/' .. process)
    end)
  end, 50)
  if not gone then
    io.stderr:write('the server outlives the editor\n')
    os.exit(1)
  end
  return checks
end

return typist
