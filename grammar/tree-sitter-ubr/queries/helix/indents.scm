; What stands below one of these is one level deeper; a new line that is indented still belongs to it.
[
  (plan) (design_plan) (stage_plan) (reading_plan) (log_plan) (calc) (check) (need) (may) (point_plan)
  (tighten) (relax) (add)
  (register) (person) (instrument)
  (unit) (design) (stage_record) (table) (log) (nonconformity) (release) (witnessed) (waived) (reviewed)
  (seal)
] @indent @extend

(group) @indent
(call) @indent
(index) @indent
[")" "]"] @outdent
