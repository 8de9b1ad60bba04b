; Colours. No node is captured twice, so the order of the patterns does not matter: it means one thing in
; some editors and the opposite in others.

; ------------------------------------------------------------------ statement words

[
  "plan" "register" "unit" "design" "stage" "nonconformity" "person" "instrument" "table" "log"
] @keyword.type

[
  "hold" "witness" "review" "release" "witnessed" "waived" "reviewed" "notified" "seal" "covers"
  "signature" "sealed"
] @keyword.directive

[
  "title" "decide" "uncertainty" "uncertainty-ratio" "concessions" "set" "role" "need" "may" "after"
  "when" "reading" "independent" "column" "calc" "check" "require" "limit" "compare" "source" "look"
  "caution" "severity" "causes" "tighten" "relax" "drop" "add" "zone" "key" "roles" "valid" "retired"
  "measures" "range" "accuracy" "calibrated" "lot" "attach" "note" "accept" "amend" "against" "found"
  "disposition" "agreed" "closed"
] @keyword

; ------------------------------------------------------------------ words inside a line

[
  "at" "with" "by" "on" "because" "was" "from" "memory" "of" "for" "due" "certificate" "rev" "extends"
  "given" "over" "notice" "beyond" "floor" "median" "round" "type-tested" "k" "nothing"
] @keyword.modifier

(other_than) @keyword.modifier

["and" "or" "not" "in"] @keyword.operator
["if" "then" "else"] @keyword.conditional

; ------------------------------------------------------------------ names

(plan name: (name) @module)
(plan_choice name: (name) @module)
(register name: (name) @module)
(register_choice name: (name) @module)
(unit name: (path) @module)
(lot (path) @module)
(extends name: (name) @module)
(stage_plan name: (name) @module)
(stage_record name: (name) @module)
(add name: (name) @module)
(nonconformity name: (name) @module)
(after (name) @module)
(rev (name) @constant)
(rev (number) @constant)

(point_plan name: (name) @label)
(release name: (name) @label)
(witnessed name: (name) @label)
(waived name: (name) @label)
(reviewed name: (name) @label)
(notified name: (name) @label)

(declared name: (name) @property)
(declared_value name: (name) @property)
(column_plan name: (name) @property)
(over name: (name) @property)
(independent (name) @property)
(tighten of: (path) @property)
(relax of: (path) @property)
(drop of: (path) @property)
(against (path) @property)
(header_cell (name) @variable.member)
(header_cell (number) @variable.member)

(set name: (name) @variable.parameter)
(index_names (name) @variable.parameter)
(set from: (path) @variable)
(member (name) @constant)
(member (number) @constant)

(kind name: (name) @type)
(given (name) @type)
(for_kinds (name) @type)
(measures (name) @type)
(choices (name) @constant)

(person name: (path) @tag)
(by (path) @tag)
(roles_list (name) @tag)
(instrument name: (path) @attribute)
(with (path) @attribute)

(call function: (name) @function.builtin)
(reference (path) @variable)

(decide (name) @constant)
(severity (name) @constant)
(disposition (name) @constant)
(sealed (name) @constant)
(source basis: (name) @constant)
(accuracy_term (name) @constant)
(accept rule: (name) @constant)
(part name: (name) @constant)
(zone_name (name) @constant)

; ------------------------------------------------------------------ values

(quantity (number) @number)
(toleranced (number) @number)
(one_sided (number) @number)
(uncertainty_ratio (number) @number)
(compare (number) @number)
(coverage (number) @number)
(lot (number) @number)
(stage_record (number) @number)
(unit_name) @type.builtin

(date) @string.special
(time) @string.special
(offset) @string.special

(pending) @constant.builtin
"n/a" @constant.builtin
(every) @constant.builtin

((name_list (path) @boolean)
  (#any-of? @boolean "yes" "no"))
((name_list (path) @constant)
  (#not-any-of? @constant "yes" "no"))

(text) @string
(unterminated_text) @string
(comment) @comment

; ------------------------------------------------------------------ signs

["=" "+" "-" "−" "/" "^" "+-" "±" ".."] @operator
(product ["*" "·" "×"] @operator)
(bound_sign) @operator
(comparison ["!=" "≠" "<" "<=" "≤" ">" ">=" "≥"] @operator)

["," ":"] @punctuation.delimiter
["(" ")" "[" "]"] @punctuation.bracket
