" `:compiler stagebook`: `:make` checks the record and fills the list of errors.
if exists('current_compiler')
  finish
endif
let current_compiler = 'stagebook'

CompilerSet makeprg=stagebook\ check\ --color\ never\ %:S
" The message stands above its place; what follows tells more and is not in the list.
CompilerSet errorformat=%Eerror:\ %m,%Wwarning:\ %m,%Inote:\ %m,%Z\ %#╭─\ %f:%l:%v,%C\ \ %m,%-G%.%#
