; A set declares an index; its name stands for one member wherever it is used in the plan.
(document) @local.scope
(set name: (name) @local.definition)
(index_names (name) @local.reference)
(reference (path . (name) @local.reference .))
