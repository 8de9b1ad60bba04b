" Colours of build records, plans and registers.
if exists('b:current_syntax')
  finish
endif
scriptencoding utf-8
syntax case match
" A name is letters, digits and inner hyphens.
syntax iskeyword @,48-57,_,-,192-255

syntax cluster ubrInLine contains=ubrText,ubrComment,ubrNumber,ubrDate,ubrPending,ubrConstant,ubrClause,ubrLogical,ubrPerson,ubrInstrument,ubrKind,ubrFunction

syntax match ubrComment /#.*$/ contains=ubrTodo,@Spell
syntax keyword ubrTodo TODO FIXME XXX contained
" A text ends with its line.
syntax region ubrText start=/"/ skip=/\\["\\]/ end=/"/ end=/$/ oneline contains=@Spell

" Words within a line.
" Matches, not keywords, which would win over what begins with them below.
syntax match ubrClause /\<\%(after\|at\|because\|beyond\|by\|certificate\|due\|extends\|floor\|for\|from\|given\|memory\|notice\|of\|on\|other\|over\|rev\|round\|than\|type-tested\|was\|with\)\>/
syntax keyword ubrLogical and else if in not or then
syntax keyword ubrConstant yes no nothing
syntax match ubrConstant /\k\@1<!n\/a\>/
syntax match ubrPending /?/
syntax match ubrFunction /\<\k\+\ze(/
syntax match ubrKind /:\s*\zs\<\k\+/
syntax match ubrPerson /\<by\s\+\k\+\%(\.\k\+\)*/ contains=ubrBy
syntax keyword ubrBy by contained
syntax match ubrInstrument /\<with\s\+\k\+\%(\.\k\+\)*/ contains=ubrWith
syntax keyword ubrWith with contained
" A number, and its unit one space behind it.
syntax match ubrNumber /\%(\k\|\d\.\)\@2<![-−]\?\d\+\%(\.\d\+\)\?\%([eE][-+]\?\d\+\)\?\k\@!/ nextgroup=ubrUnit
syntax match ubrUnit / \?\%(\%(and\|or\|not\|if\|then\|else\|in\|at\|because\|by\|certificate\|due\|for\|from\|notice\|of\|on\|sealed\|was\|with\)\>\)\@!\%(dB(A)\|%\|°[CF]\|[[:alpha:]Ωµμ]\k*\)\%(\^[-−]\?\d\+\)\?\%([*·×/]\%(%\|°[CF]\|\k\+\)\%(\^[-−]\?\d\+\)\?\)*\%([[(]\)\@!/ contained
syntax match ubrDate /\<\d\{4}-\d\d-\d\d\>/
syntax match ubrDate /\<\d\{1,2}:\d\d\%(:\d\d\)\?\>/

" Statements: a word at the beginning of a line, and the name behind it.
syntax match ubrSection /^\s*\zs\<\%(plan\|register\|unit\|design\|stage\|nonconformity\|add\|tighten\|relax\)\>\%(\s*[=[]\)\@!/ nextgroup=ubrSectionName skipwhite
syntax match ubrSectionName /\<\%(on\|by\|rev\)\@!\k\+\%(\.\k\+\)*/ contained nextgroup=@ubrInLine skipwhite
syntax match ubrSection /^\s*\zs\<\%(person\|instrument\)\>\%(\s*[=[]\)\@!/ nextgroup=ubrEntry skipwhite
syntax match ubrEntry /\<\k\+\%(\.\k\+\)*/ contained
syntax match ubrPoint /^\s*\zs\<\%(hold\|witness\|review\|release\|witnessed\|waived\|reviewed\|notified\)\>\%(\s*[=[]\)\@!/ nextgroup=ubrPointName skipwhite
syntax match ubrPointName /\<\k\+/ contained
syntax match ubrStatement /^\s*\zs\<\%(amend\|reading\|column\|calc\|check\|need\|may\|set\|drop\|against\)\>\%(\s*[=[]\)\@!/ nextgroup=ubrValue skipwhite
syntax match ubrStatement /^\s*\zs\<\%(accept\|disposition\|severity\|decide\)\>\%(\s*[=[]\)\@!/ nextgroup=ubrChoice skipwhite
syntax match ubrChoice /\<\k\+/ contained
syntax match ubrStatement /^\s*\zs\<\%(accuracy\|after\|agreed\|at\|attach\|because\|calibrated\|causes\|caution\|closed\|compare\|concessions\|covers\|found\|independent\|key\|look\|lot\|measures\|note\|on\|range\|require\|retired\|role\|roles\|seal\|sealed\|signature\|source\|title\|uncertainty\|uncertainty-ratio\|valid\|when\|zone\)\>\%(\s*[=[]\)\@!/
syntax match ubrStatement /^\s*\zs\<limit\>/
" A recorded value.
syntax match ubrValue /^\s*\zs\<\%(limit\>\)\@!\k\+\ze\s*[=[]/
syntax match ubrValue /\<\k\+\%(\.\k\+\)*/ contained

" A table: its line, the header row, and rows in which no word is a statement.
syntax region ubrTable start=/^\z(\s*\)\%(table\|log\)\>\%(\s*[=[]\)\@!/ end=/^\ze\%(\z1\s\)\@!\s*[^[:blank:]#]/ keepend contains=ubrTableLine,ubrRowStatement,@ubrInLine
syntax match ubrTableLine /^\s*\%(table\|log\)\>.*$/ contained contains=ubrTableWord,ubrCellUnit,@ubrInLine nextgroup=ubrHeader skipnl skipempty
syntax match ubrTableWord /^\s*\zs\%(table\|log\)\>/ contained nextgroup=ubrTableName skipwhite
syntax match ubrTableName /\<\%(\%(at\|with\|by\|on\|because\)\>\)\@!\k\+/ contained nextgroup=ubrCellUnit
syntax match ubrHeader /^\s\+\%(\%(column\|note\|attach\|accept\|when\|caution\)\>\)\@![^[:blank:]#].*$/ contained contains=ubrColumn,ubrCellUnit,ubrComment
syntax match ubrColumn /\<\k\+/ contained nextgroup=ubrCellUnit
syntax match ubrCellUnit /(\%(dB(A)\|[^() \t]\)*)/ms=s+1,me=e-1 contained
syntax match ubrRowStatement /^\s*\zs\<\%(accept\|attach\|caution\|column\|note\|when\)\>/ contained nextgroup=ubrChoice skipwhite

" Nothing at the left margin is inside a table.
syntax sync match ubrMargin grouphere NONE /^[^[:blank:]#]/
syntax sync maxlines=5000

highlight default link ubrComment Comment
highlight default link ubrTodo Todo
highlight default link ubrText String
highlight default link ubrSection Keyword
highlight default link ubrSectionName Title
highlight default link ubrEntry Type
highlight default link ubrPoint Keyword
highlight default link ubrPointName Title
highlight default link ubrStatement Statement
highlight default link ubrTableWord Statement
highlight default link ubrRowStatement Statement
highlight default link ubrValue Identifier
highlight default link ubrTableName Identifier
highlight default link ubrColumn Identifier
highlight default link ubrChoice Constant
highlight default link ubrClause PreProc
highlight default link ubrBy PreProc
highlight default link ubrWith PreProc
highlight default link ubrLogical Operator
highlight default link ubrPerson Type
highlight default link ubrInstrument Type
highlight default link ubrKind Type
highlight default link ubrFunction Function
highlight default link ubrNumber Number
highlight default link ubrUnit Special
highlight default link ubrCellUnit Special
highlight default link ubrDate Constant
highlight default link ubrConstant Constant
highlight default link ubrPending Question

let b:current_syntax = 'ubr'
