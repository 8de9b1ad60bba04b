; A stage and its like are classes, a reading or a table a function, a part of an index a parameter. The names of
; captures are those of nvim-treesitter-textobjects.
[
  (stage_plan) (stage_record) (design_plan) (design) (nonconformity) (person) (instrument)
] @class.outer
(stage_plan (block) @class.inner)
(stage_record (block) @class.inner)
(design_plan (block) @class.inner)
(design (block) @class.inner)
(nonconformity (block) @class.inner)
(person (block) @class.inner)
(instrument (block) @class.inner)

[
  (reading_plan) (check) (calc) (log_plan) (table) (log) (point_plan)
] @function.outer
(reading_plan (block) @function.inner)
(check (block) @function.inner)
(log_plan (block) @function.inner)
(table (block) @function.inner)
(log (block) @function.inner)
(point_plan (block) @function.inner)

(index (_) @parameter.inner)
(call (_) @parameter.inner . ["," ")"])

(comment) @comment.outer
