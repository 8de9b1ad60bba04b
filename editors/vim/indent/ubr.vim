" Indentation carries the meaning: a new line goes below what opens a level, else beside the line above, and a
" line that stands where one can stand is never moved.
if exists('b:did_indent')
  finish
endif
let b:did_indent = 1

setlocal autoindent indentexpr=UbrIndent(v:lnum) indentkeys=!^F,o,O
let b:undo_indent = 'setlocal autoindent< indentexpr< indentkeys<'

if exists('*UbrIndent')
  finish
endif

" Whether others are expected below a line.
function s:Opens(number) abort
  let line = getline(a:number)
  " An open bracket, an operator or a comma: the statement goes on below.
  if line =~# '\v%([-,(+*/=·×]|<%(and|or|not|then|else))\s*%(#.*)?$'
    return 1
  endif
  if line =~# '\v^%(unit|plan|register)>' || line =~# '\v^\s*%(design|stage|nonconformity|add|tighten|relax|person|instrument|table)%(\k|\s*[=[])@!'
    return 1
  endif
  return line =~# '\v^\s*%(log|reading|check|calc)%(\k|\s*[=[])@!' && s:InPlan()
endfunction

" Whether the first statement of the buffer is that of a plan.
function s:InPlan() abort
  let number = 1
  while number < line('$') && getline(number) =~# '^\s*\%(#.*\)\?$'
    let number += 1
  endwhile
  return getline(number) =~# '^\%uFEFF\?plan\>'
endfunction

function UbrIndent(number) abort
  let above = a:number - 1
  while above > 0 && getline(above) =~# '^\s*\%(#.*\)\?$'
    let above -= 1
  endwhile
  if above == 0
    return 0
  endif
  let deeper = indent(above) / 2 * 2 + 2
  let now = indent(a:number)
  if getline(a:number) =~# '\S' && now % 2 == 0 && now <= deeper
    return now
  endif
  return s:Opens(above) ? deeper : indent(above)
endfunction
