; The names of captures are those of nvim-treesitter. A line below one of these begins one level deeper.
[
  (plan) (design_plan) (stage_plan) (reading_plan) (log_plan) (calc) (check) (need) (may) (point_plan)
  (tighten) (relax) (add)
  (register) (person) (instrument)
  (unit) (design) (stage_record) (table) (log) (nonconformity) (release) (witnessed) (waived) (reviewed)
  (seal)
] @indent.begin

((stage_plan) @indent.begin (#set! indent.immediate 1))
((stage_record) @indent.begin (#set! indent.immediate 1))
((design) @indent.begin (#set! indent.immediate 1))
((design_plan) @indent.begin (#set! indent.immediate 1))

(group "(" @indent.begin ")" @indent.end)
(text) @indent.ignore
(comment) @indent.ignore
