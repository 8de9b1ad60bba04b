" Build records, plans and registers.
autocmd BufRead,BufNewFile *.ubr setfiletype ubr
