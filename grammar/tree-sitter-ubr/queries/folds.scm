; A statement folds with what is indented below it.
(_ (block)) @fold
