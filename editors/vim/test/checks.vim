" What a real Vim shows of the example. The last line of the report, and the exit status, tell how it went.
scriptencoding utf-8
set noswapfile hidden
let s:checks = 0
let s:wrong = []

function s:Expect(what, expected, found) abort
  let s:checks += 1
  if a:expected !=# a:found
    call add(s:wrong, printf('%s: expected %s, found %s', a:what, string(a:expected), string(a:found)))
  endif
endfunction

" The group in which a text is coloured, at its next place behind the cursor. \zs in the text moves the place.
function s:Colour(group, text) abort
  if search('\C\V' .. a:text, 'W') == 0
    call add(s:wrong, 'not in the text behind line ' .. line('.') .. ': ' .. a:text)
    return
  endif
  call s:Expect(a:text .. ' in line ' .. line('.'), a:group, synIDattr(synID(line('.'), col('.'), 1), 'name'))
endfunction

function s:Text(lines) abort
  enew!
  setlocal filetype=ubr
  call setline(1, a:lines)
  setlocal filetype=ubr
  call cursor(1, 1)
endfunction

function s:Run() abort
  edit units/KFT-0415-1.ubr
  call s:Expect('file type', 'ubr', &filetype)
  call cursor(1, 1)
  call s:Colour('ubrComment', 'All data')
  call s:Colour('ubrSection', '\^unit')
  call s:Colour('ubrSectionName', 'KFT-0415-1')
  call s:Colour('ubrText', '40 MVA')
  call s:Colour('ubrSection', 'plan')
  call s:Colour('ubrSectionName', 'kestrel-ford')
  call s:Colour('ubrClause', 'rev C')
  call s:Colour('ubrStatement', 'lot  ')
  call s:Colour('ubrNumber', 'unit 1 of \zs2')
  call s:Colour('ubrSection', 'design rev')
  call s:Colour('ubrClause', 'rev')
  call s:Colour('ubrDate', '2026-03-16')
  call s:Colour('ubrPerson', 'A.Brandt')
  call s:Colour('ubrValue', 'rated-power')
  call s:Colour('ubrNumber', '40 MVA')
  call s:Colour('ubrUnit', 'MVA')
  call s:Colour('ubrUnit', '°C')
  call s:Colour('ubrTableWord', 'table')
  call s:Colour('ubrColumn', 'winding')
  call s:Colour('ubrCellUnit', 'kV')
  call s:Colour('ubrNumber', '110')
  call s:Colour('ubrNumber', '17')
  call s:Colour('ubrCellUnit', 'ohm*mm^2/m')
  call s:Colour('ubrSection', 'stage winding')
  call s:Colour('ubrSectionName', 'winding')
  call s:Colour('ubrStatement', 'on 2026')
  call s:Colour('ubrPerson', 'J.Lindqvist')
  call s:Colour('ubrTableName', 'turns')
  call s:Colour('ubrWith', 'with')
  call s:Colour('ubrInstrument', 'TC-2')
  call s:Colour('ubrNumber', '880')
  call s:Colour('ubrTableName', 'inner-diameter')
  call s:Colour('ubrCellUnit', 'mm')
  call s:Colour('ubrConstant', 'yes')
  call s:Colour('ubrPoint', 'release')
  call s:Colour('ubrPointName', 'H10')
  call s:Colour('ubrStatement', 'seal')
  call s:Colour('ubrText', 'ae18471')
  call s:Colour('ubrClause', 'after')
  call s:Colour('ubrConstant', 'nothing')
  call s:Colour('ubrSection', 'stage connections')
  call s:Colour('ubrPending', '?')

  edit plan.ubr
  call cursor(1, 1)
  call s:Colour('ubrSection', 'plan kestrel')
  call s:Colour('ubrClause', 'extends')
  call s:Colour('ubrSectionName', 'drying.dry-enough')
  call s:Colour('ubrStatement', 'require')
  call s:Colour('ubrUnit', '%')
  call s:Colour('ubrStatement', 'reading')
  call s:Colour('ubrValue', 'joint-resistance')
  call s:Colour('ubrKind', 'ratio')
  call s:Colour('ubrStatement', 'limit')
  call s:Colour('ubrPoint', 'hold K55')

  edit register.ubr
  call cursor(1, 1)
  call s:Colour('ubrSection', 'person')
  call s:Colour('ubrEntry', 'L.Novak')

  " Hostile lines: an open text ends with its line, rows hold no statements, units of every sign.
  call s:Text(['unit A-1', 'stage s', '  note "open # no comment', '  x = 4 Ω', '  seal-count = 1',
        \ '  table  with TP-1', '    layer  height(mm)  # why', '    seal   3', '    check  n/a "no"', '    a      -4',
        \ '  y = 3 mm +2/-1 mm  at 20 °C', '  loss[1U] = 66 dB(A)', '  hold = 3', 'limit = 3'])
  call s:Colour('ubrText', '# no')
  call s:Colour('ubrValue', 'x =')
  call s:Colour('ubrUnit', 'Ω')
  call s:Colour('ubrValue', 'seal-count')
  call s:Colour('ubrColumn', 'height')
  call s:Colour('ubrComment', 'why')
  call s:Colour('ubrTable', 'seal')
  call s:Colour('ubrTable', 'check')
  call s:Colour('ubrConstant', 'n/a')
  call s:Colour('ubrNumber', '-4')
  call s:Colour('ubrValue', 'y')
  call s:Colour('ubrUnit', 'mm')
  call s:Colour('ubrClause', 'at')
  call s:Colour('ubrUnit', '°C')
  call s:Colour('ubrValue', 'loss')
  call s:Colour('', '1U')
  call s:Colour('ubrUnit', 'dB(A)')
  call s:Colour('ubrValue', 'hold')

  " Indentation while typing.
  call s:Text([''])
  execute "normal! istage winding\<CR>on 2026-04-14\<CR>table turns\<CR>winding  U\<CR>HV  880\<CR>\<C-D>release H10"
  call s:Expect('indentation', ['stage winding', '  on 2026-04-14', '  table turns', '    winding  U', '    HV  880',
        \ '  release H10'], getline(1, '$'))
  call cursor(3, 1)
  execute "normal! Onote \"x\""
  call s:Expect('a line above', '  note "x"', getline(3))
  call s:Text(['plan p rev A', 'stage s', '  reading x : length'])
  execute "normal! Golimit = 3 mm +\<CR>4 mm"
  call s:Expect('below a reading, and a line that goes on', ['    limit = 3 mm +', '      4 mm'], getline(4, 5))

  " What stands well is not moved; what does not goes below the line above.
  edit! units/KFT-0412-1.ubr
  let before = getline(1, '$')
  normal! gg=G
  call s:Expect('a record, indented again', before, getline(1, '$'))
  call s:Text(['stage s', '       table t', '         winding  U', '         HV       1'])
  normal! gg=G
  call s:Expect('a pasted block', ['stage s', '  table t', '    winding  U', '    HV       1'], getline(1, '$'))

  " Comments, names, folds.
  call s:Expect('comments', '# %s', &commentstring)
  call s:Text(['  joint-gap = 3 mm'])
  normal! wyiw
  call s:Expect('a name is one word', 'joint-gap', @")
  edit! units/KFT-0415-1.ubr
  call s:Expect('nothing is folded at first', -1, foldclosed(12))
  setlocal foldlevel=0
  call cursor(1, 1)
  call search('^stage core$')
  call s:Expect('a stage folds', line('.') + 1, foldclosed(line('.') + 5))
  setlocal foldlevel=99

  " Findings in the list of errors, behind signs of more than a byte.
  call search('^stage connections$')
  call append('.', '  insulation-60s[HV-to-rest] = 4000 Mohm  at 21 °C  with XX-99')
  let at = line('.') + 1
  write! units/KFT-0500-1.ubr
  edit units/KFT-0500-1.ubr
  compiler stagebook
  silent make!
  let found = filter(getqflist(), {_, one -> one.text =~# 'XX-99'})
  call s:Expect('the finding in the list', 1, len(found))
  if len(found) == 1
    call s:Expect('its line', at, found[0].lnum)
    call s:Expect('its file', 'KFT-0500-1.ubr', fnamemodify(bufname(found[0].bufnr), ':t'))
    execute 'cc' index(getqflist(), found[0]) + 1
    call s:Expect('its word', 'XX-99', expand('<cword>'))
  endif
  let broken = filter(getqflist(), {_, one -> one.text =~# 'missing-condition'})
  call s:Expect('a message over two lines', [at, 'E'], empty(broken) ? [] : [broken[0].lnum, broken[0].type])

  " The layout, as the README has it.
  call s:Text(['unit T-1 "µ"', '    plan p', '  !! no statement'])
  silent %!stagebook format -
  call s:Expect('the layout', ['unit T-1 "µ"', '  plan      p', '  !! no statement'], getline(1, '$'))
endfunction

try
  call s:Run()
catch
  call add(s:wrong, v:exception .. ' at ' .. v:throwpoint)
endtry
if empty(s:wrong)
  call writefile([printf('Vim: %d things as expected', s:checks)], $REPORT)
  qall!
endif
call writefile(s:wrong, $REPORT)
cquit!
