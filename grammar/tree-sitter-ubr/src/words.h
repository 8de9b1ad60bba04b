// The words that begin a statement, in the order of strcmp. tests/grammars.rs holds them to the real parser.

#define LONGEST_WORD 17

static const char *const STATEMENT_WORDS[] = {
  "accept", "accuracy", "add", "after", "against", "agreed", "amend", "at", "attach", "because",
  "by", "calc", "calibrated", "causes", "caution", "check", "closed", "column", "compare",
  "concessions", "covers", "decide", "design", "disposition", "drop", "found", "hold",
  "independent", "instrument", "key", "limit", "log", "look", "lot", "may", "measures", "need",
  "nonconformity", "note", "notified", "on", "person", "plan", "range", "reading", "register",
  "relax", "release", "require", "retired", "review", "reviewed", "role", "roles", "seal", "sealed",
  "set", "severity", "signature", "source", "stage", "table", "tighten", "title", "uncertainty",
  "uncertainty-ratio", "unit", "valid", "waived", "when", "with", "witness", "witnessed", "zone",
};
