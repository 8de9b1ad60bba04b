-- The language server as Neovim 0.11 and later starts it for every build record, plan and register.
return {
  cmd = { vim.g.stagebook_program or 'stagebook', 'lsp' },
  filetypes = { 'ubr' },
  -- Plans and registers are looked for from the record's folder upwards, so the repository is the place to begin.
  root_markers = { '.git' },
}
