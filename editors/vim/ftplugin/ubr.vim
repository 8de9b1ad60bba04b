" How a document of the language is written: two blanks a level, `#` before a comment.
if exists('b:did_ftplugin')
  finish
endif
let b:did_ftplugin = 1

setlocal commentstring=#\ %s comments=:# formatoptions-=t formatoptions+=croql
setlocal expandtab shiftwidth=2 softtabstop=2 tabstop=8
" A name has hyphens within it.
setlocal iskeyword+=-
setlocal include= nowrap
" The outline is the indentation; an open fold is what somebody who opens a record expects.
setlocal foldmethod=indent foldlevel=99

let b:undo_ftplugin = 'setlocal commentstring< comments< formatoptions< expandtab< shiftwidth< softtabstop< tabstop<'
      \ .. ' iskeyword< include< wrap< foldmethod< foldlevel<'
