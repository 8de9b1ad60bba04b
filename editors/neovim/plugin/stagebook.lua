-- Knows the files by their ending and starts the language server for them.
if vim.g.loaded_stagebook then
  return
end
vim.g.loaded_stagebook = true

vim.filetype.add({ extension = { ubr = 'ubr' } })

if vim.lsp.enable then
  vim.lsp.enable('stagebook')
else
  -- Neovim 0.8 to 0.10.
  vim.api.nvim_create_autocmd('FileType', {
    pattern = 'ubr',
    group = vim.api.nvim_create_augroup('stagebook', {}),
    callback = function(event)
      local file = vim.api.nvim_buf_get_name(event.buf)
      local git = vim.fs.find('.git', { path = vim.fs.dirname(file), upward = true })[1]
      vim.lsp.start({
        name = 'stagebook',
        cmd = { vim.g.stagebook_program or 'stagebook', 'lsp' },
        root_dir = git and vim.fs.dirname(git) or vim.fs.dirname(file),
      })
    end,
  })
end
