; A stage and its like are classes, a reading or a table a function, a part of an index a parameter.
[
  (stage_plan) (stage_record) (design_plan) (design) (nonconformity) (person) (instrument)
] @class.around
(stage_plan (block) @class.inside)
(stage_record (block) @class.inside)
(design_plan (block) @class.inside)
(design (block) @class.inside)
(nonconformity (block) @class.inside)
(person (block) @class.inside)
(instrument (block) @class.inside)

[
  (reading_plan) (check) (calc) (log_plan) (table) (log) (point_plan)
] @function.around
(reading_plan (block) @function.inside)
(check (block) @function.inside)
(log_plan (block) @function.inside)
(table (block) @function.inside)
(log (block) @function.inside)
(point_plan (block) @function.inside)

(index (_) @parameter.inside)
(call (_) @parameter.inside . ["," ")"])

(row) @entry.around
(row (_) @entry.inside)

(comment) @comment.inside
(comment)+ @comment.around
