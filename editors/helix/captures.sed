# The names that the queries of the grammar give to colours, as Helix calls them.
s/@keyword\.type/@keyword.storage.type/g
s/@keyword\.modifier/@keyword.storage.modifier/g
s/@keyword\.conditional/@keyword.control.conditional/g
s/@module/@namespace/g
s/@property|@variable\.member/@variable.other.member/g
s/@number/@constant.numeric/g
s/@boolean/@constant.builtin.boolean/g
