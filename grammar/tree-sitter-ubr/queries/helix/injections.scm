; Marks such as TODO inside comments.
((comment) @injection.content
  (#set! injection.language "comment"))
