-- How a document of the language is written: two blanks a level, `#` before a comment.
vim.bo.commentstring = '# %s'
vim.bo.comments = ':#'
vim.bo.expandtab = true
vim.bo.shiftwidth = 2
vim.bo.softtabstop = 2
vim.bo.autoindent = true
-- The outline is the indentation; an open fold is what somebody who opens a record expects.
vim.wo.foldmethod = 'indent'
vim.wo.foldlevel = 99
vim.b.undo_ftplugin =
  'setlocal commentstring< comments< expandtab< shiftwidth< softtabstop< autoindent< foldmethod< foldlevel<'
