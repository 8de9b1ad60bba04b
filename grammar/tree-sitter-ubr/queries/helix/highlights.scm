; Colours as in ../highlights.scm, in the names of Helix. A test holds the two files together.

; ------------------------------------------------------------------ statement words

[
  "plan" "register" "unit" "design" "stage" "nonconformity" "person" "instrument" "table" "log"
] @keyword.storage.type

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
] @keyword.storage.modifier

(other_than) @keyword.storage.modifier

["and" "or" "not" "in"] @keyword.operator
["if" "then" "else"] @keyword.control.conditional

; ------------------------------------------------------------------ names

(plan name: (name) @namespace)
(plan_choice name: (name) @namespace)
(register name: (name) @namespace)
(register_choice name: (name) @namespace)
(unit name: (path) @namespace)
(lot (path) @namespace)
(extends name: (name) @namespace)
(stage_plan name: (name) @namespace)
(stage_record name: (name) @namespace)
(add name: (name) @namespace)
(nonconformity name: (name) @namespace)
(after (name) @namespace)
(rev (name) @constant)
(rev (number) @constant)

(point_plan name: (name) @label)
(release name: (name) @label)
(witnessed name: (name) @label)
(waived name: (name) @label)
(reviewed name: (name) @label)
(notified name: (name) @label)

(declared name: (name) @variable.other.member)
(declared_value name: (name) @variable.other.member)
(column_plan name: (name) @variable.other.member)
(over name: (name) @variable.other.member)
(independent (name) @variable.other.member)
(tighten of: (path) @variable.other.member)
(relax of: (path) @variable.other.member)
(drop of: (path) @variable.other.member)
(against (path) @variable.other.member)
(header_cell (name) @variable.other.member)
(header_cell (number) @variable.other.member)

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

(quantity (number) @constant.numeric)
(toleranced (number) @constant.numeric)
(one_sided (number) @constant.numeric)
(uncertainty_ratio (number) @constant.numeric)
(compare (number) @constant.numeric)
(coverage (number) @constant.numeric)
(lot (number) @constant.numeric)
(stage_record (number) @constant.numeric)
(unit_name) @type.builtin

(date) @string.special
(time) @string.special
(offset) @string.special

(pending) @constant.builtin
"n/a" @constant.builtin
(every) @constant.builtin

((name_list (path) @constant.builtin.boolean)
  (#any-of? @constant.builtin.boolean "yes" "no"))
((name_list (path) @constant)
  (#not-any-of? @constant "yes" "no"))

(text) @string
(unterminated_text) @string
(comment) @comment.line

; ------------------------------------------------------------------ signs

["=" "+" "-" "−" "/" "^" "+-" "±" ".."] @operator
(product ["*" "·" "×"] @operator)
(bound_sign) @operator
(comparison ["!=" "≠" "<" "<=" "≤" ">" ">=" "≥"] @operator)

["," ":"] @punctuation.delimiter
["(" ")" "[" "]"] @punctuation.bracket
