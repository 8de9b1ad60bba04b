// The scanner: where a line ends, what belongs below it, and how the next line is to be read.
//
// It follows src/syntax/outline.rs of the real parser. At the first character of a line it looks over the
// whole line and says with an empty token what kind of line it is; it remembers how many line ends further
// on belong to it (an open bracket, an operator at the end). At the line's end it looks ahead to the next
// line with anything on it, and so knows which outlines end there. All of this depends on the text alone,
// never on what the grammar made of the line, so that a broken line breaks only itself.

#include "tree_sitter/alloc.h"
#include "tree_sitter/parser.h"
#include "words.h"

#include <stddef.h>
#include <string.h>

enum TokenType {
  LINE,
  LINE_IN_PLAN,
  LINE_IN_UNIT,
  LINE_ELSEWHERE,
  READING_LINE,
  DESIGN_VALUE_LINE,
  HEADER_LINE,
  ROW_LINE,
  UNREAD_LINE,
  NEWLINE,
  INDENT,
  DEDENT,
  LINE_GOES_ON,
  CELL_BREAK,
  UNREAD_TEXT,
};

// As many levels as the real parser reads; deeper lines stay on the last.
#define MAX_OUTLINE_DEPTH 64

typedef enum { BETWEEN, OUTLINE, IN_LINE } Phase;
typedef enum { NOT_SEEN, PLAN, UNIT, ELSEWHERE } Document;
// What a statement makes of the lines below it.
typedef enum { ORDINARY, STAGE, DESIGN, TABLE, LOG } Kind;

typedef struct {
  uint16_t indent;
  uint8_t kind;
  uint8_t has_header;
} Statement;

typedef struct {
  uint8_t phase;
  uint8_t document;
  uint8_t in_row;
  uint8_t in_unread;
  // Line ends that are still to come inside this line.
  uint16_t line_ends;
  // Indentation of the next line with anything on it.
  uint16_t next_indent;
  Statement current;
  uint8_t depth;
  // The statements whose outline is open, outermost first.
  Statement open[MAX_OUTLINE_DEPTH];
} Scanner;

// ---------------------------------------------------------------- tokens of a line, looked at ahead

typedef enum {
  END_OF_FILE,
  LINE_END,
  NAME,
  NUMBER,
  TEXT,
  EQUALS,
  OPEN_BRACKET,
  OPEN_PAREN,
  CLOSING,
  AT_MOST_OR_LEAST,
  OPERATOR, // one that leaves a line unfinished when it stands at its end
  OTHER,
} Ahead;

typedef struct {
  TSLexer *lexer;
  // The letters of the last name; a longer one is no word of the language.
  char word[LONGEST_WORD + 2];
  // A token that was read along with the one before it.
  Ahead waiting;
  bool is_waiting;
} Reader;

static bool is_blank(int32_t c) {
  return c == ' ' || c == '\t' || c == 0xA0 || c == 0x2009 || c == 0x202F;
}

static bool is_line_end(int32_t c) { return c == '\n' || c == '\r'; }

static bool is_digit(int32_t c) { return c >= '0' && c <= '9'; }

static bool is_letter(int32_t c) {
  if (c < 0x80) return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_';
  switch (c) {
    case 0xA0: case 0xB0: case 0xB1: case 0xB7: case 0xD7: case 0x2009: case 0x202F: case 0x2212:
    case 0x2260: case 0x2264: case 0x2265: case 0xFEFF:
      return false;
    default:
      // Whatever else lies outside ASCII is taken for a letter: a stray sign there is an error anyhow.
      return true;
  }
}

static bool is_word(int32_t c) { return is_digit(c) || is_letter(c); }

static void advance(TSLexer *lexer) { lexer->advance(lexer, false); }

static void take_line_end(TSLexer *lexer) {
  if (lexer->eof(lexer)) return;
  bool carriage_return = lexer->lookahead == '\r';
  advance(lexer);
  if (carriage_return && lexer->lookahead == '\n') advance(lexer);
}

static void skip_to_line_end(TSLexer *lexer) {
  while (!lexer->eof(lexer) && !is_line_end(lexer->lookahead)) advance(lexer);
}

// A name, a number, a date or a time: what follows letters and digits without a gap.
static Ahead read_word(Reader *reader) {
  TSLexer *lexer = reader->lexer;
  size_t length = 0;
  size_t digits = 0;
  size_t hyphens = 0;
  bool letters = false;
  for (;;) {
    int32_t c = lexer->lookahead;
    if (is_word(c)) {
      letters = letters || is_letter(c);
      digits += is_digit(c) ? 1 : 0;
    } else if (c != '-') {
      break;
    }
    advance(lexer);
    if (c == '-') {
      if (!is_word(lexer->lookahead)) {
        reader->waiting = OPERATOR;
        reader->is_waiting = true;
        break;
      }
      hyphens++;
    }
    if (length <= LONGEST_WORD) reader->word[length++] = c < 0x80 ? (char)c : '?';
  }
  reader->word[length] = 0;
  if (letters) {
    if (strcmp(reader->word, "n") == 0 && lexer->lookahead == '/') {
      advance(lexer);
      if (lexer->lookahead == 'a') {
        advance(lexer);
        return OTHER; // n/a
      }
      reader->waiting = OPERATOR;
      reader->is_waiting = true;
    }
    return NAME;
  }
  if (lexer->lookahead == ':' && digits <= 2 && hyphens == 0) return OTHER; // a time
  if (digits == 8 && hyphens == 2) return OTHER;                            // a date
  return NUMBER;
}

static Ahead read_text(TSLexer *lexer) {
  advance(lexer);
  while (!lexer->eof(lexer) && !is_line_end(lexer->lookahead)) {
    int32_t c = lexer->lookahead;
    advance(lexer);
    if (c == '"') return TEXT;
    if (c == '\\' && !is_line_end(lexer->lookahead) && !lexer->eof(lexer)) advance(lexer);
  }
  return OTHER; // its closing quote is missing
}

static Ahead read_ahead(Reader *reader) {
  TSLexer *lexer = reader->lexer;
  if (reader->is_waiting) {
    reader->is_waiting = false;
    return reader->waiting;
  }
  while (is_blank(lexer->lookahead) || lexer->lookahead == 0xFEFF) advance(lexer);
  if (lexer->lookahead == '#') skip_to_line_end(lexer);
  if (lexer->eof(lexer)) return END_OF_FILE;
  int32_t c = lexer->lookahead;
  if (is_line_end(c)) {
    take_line_end(lexer);
    return LINE_END;
  }
  if (is_word(c)) return read_word(reader);
  if (c == '"') return read_text(lexer);
  advance(lexer);
  switch (c) {
    case '=': return EQUALS;
    case '[': return OPEN_BRACKET;
    case '(': return OPEN_PAREN;
    case ']': case ')': return CLOSING;
    case 0x2264: case 0x2265: return AT_MOST_OR_LEAST;
    case '<': case '>':
      if (lexer->lookahead != '=') return OPERATOR;
      advance(lexer);
      return AT_MOST_OR_LEAST;
    case '!':
      if (lexer->lookahead == '=') advance(lexer);
      return OTHER;
    case '.':
      if (lexer->lookahead != '.') return OTHER;
      advance(lexer);
      return OPERATOR;
    case '+':
      if (lexer->lookahead == '-') advance(lexer);
      return OPERATOR;
    case ',': case '-': case 0x2212: case '*': case 0xB7: case 0xD7: case '/': case 0xB1:
      return OPERATOR;
    default: return OTHER;
  }
}

static bool is_one_of(const char *word, const char *const *words, size_t count) {
  size_t low = 0;
  size_t high = count;
  while (low < high) {
    size_t middle = (low + high) / 2;
    int order = strcmp(word, words[middle]);
    if (order == 0) return true;
    if (order < 0) high = middle;
    else low = middle + 1;
  }
  return false;
}

static bool is_statement_word(const char *word) {
  return is_one_of(word, STATEMENT_WORDS, sizeof STATEMENT_WORDS / sizeof *STATEMENT_WORDS);
}

// Words that stand for another statement in each document.
static bool is_document_word(const char *word) {
  return strcmp(word, "plan") == 0 || strcmp(word, "register") == 0 || strcmp(word, "design") == 0 ||
         strcmp(word, "stage") == 0 || strcmp(word, "log") == 0 || strcmp(word, "column") == 0;
}

static bool is_word_operator(const char *word) {
  return strcmp(word, "and") == 0 || strcmp(word, "or") == 0 || strcmp(word, "not") == 0 ||
         strcmp(word, "then") == 0 || strcmp(word, "else") == 0 || strcmp(word, "in") == 0;
}

// ---------------------------------------------------------------- a line

typedef struct {
  int32_t brackets;
  bool unfinished;
} LineState;

static void take(LineState *state, Ahead token, const Reader *reader) {
  if (token == OPEN_BRACKET || token == OPEN_PAREN) state->brackets++;
  if (token == CLOSING) state->brackets--;
  state->unfinished = token == EQUALS || token == OPERATOR || token == AT_MOST_OR_LEAST ||
                      (token == NAME && is_word_operator(reader->word));
}

// How many line ends lie inside the line whose next token is `token`: it goes on over deeper lines while a
// bracket is open or an operator stands at its end, unless one of them plainly is a statement of its own.
static uint16_t line_ends_inside(Reader *reader, LineState state, Ahead token, uint16_t indent) {
  TSLexer *lexer = reader->lexer;
  uint32_t inside = 0;
  for (;;) {
    while (token != LINE_END && token != END_OF_FILE) {
      take(&state, token, reader);
      token = read_ahead(reader);
    }
    if (token == END_OF_FILE || (state.brackets <= 0 && !state.unfinished)) break;
    // The next line with anything on it.
    uint32_t line_ends = 1;
    uint32_t columns;
    for (;;) {
      columns = 0;
      while (is_blank(lexer->lookahead) || lexer->lookahead == 0xFEFF) {
        columns += lexer->lookahead == 0xFEFF ? 0 : 1;
        advance(lexer);
      }
      if (lexer->lookahead == '#') skip_to_line_end(lexer);
      if (lexer->eof(lexer) || !is_line_end(lexer->lookahead)) break;
      take_line_end(lexer);
      line_ends++;
    }
    if (lexer->eof(lexer) || columns <= indent) break;
    token = read_ahead(reader);
    if (token == NAME && is_statement_word(reader->word)) {
      take(&state, token, reader);
      token = read_ahead(reader);
      if (token == NAME || token == TEXT || token == NUMBER || token == AT_MOST_OR_LEAST) break;
    }
    inside += line_ends;
  }
  return inside < UINT16_MAX ? (uint16_t)inside : UINT16_MAX;
}

static bool has_from(Reader *reader) {
  for (Ahead token = read_ahead(reader); token != LINE_END && token != END_OF_FILE; token = read_ahead(reader)) {
    if (token == NAME && strcmp(reader->word, "from") == 0) return true;
  }
  return false;
}

// `accept RULE because …`, `by …` or `on …`, where a cell might be called `accept`.
static bool is_acceptance(Reader *reader) {
  if (read_ahead(reader) != NAME || read_ahead(reader) != NAME) return false;
  return strcmp(reader->word, "because") == 0 || strcmp(reader->word, "by") == 0 ||
         strcmp(reader->word, "on") == 0;
}

static Statement *parent_of(Scanner *scanner) {
  return scanner->depth > 0 ? &scanner->open[scanner->depth - 1] : NULL;
}

static enum TokenType row_line(Scanner *scanner, Statement *parent, Reader *reader) {
  Ahead first = read_ahead(reader);
  if (first == NAME && strcmp(reader->word, "accept") == 0 && is_acceptance(reader)) return LINE;
  if (first == NAME && parent->kind == LOG && strcmp(reader->word, "column") == 0 && has_from(reader)) {
    return LINE_IN_UNIT;
  }
  if (!parent->has_header) {
    parent->has_header = true;
    return HEADER_LINE;
  }
  scanner->in_row = true;
  return ROW_LINE;
}

static enum TokenType ordinary_line(Scanner *scanner, Statement *parent, Reader *reader, uint16_t indent) {
  Ahead first = read_ahead(reader);
  char word[LONGEST_WORD + 2];
  memcpy(word, reader->word, sizeof word);
  LineState state = {0, false};
  take(&state, first, reader);
  Ahead second = read_ahead(reader);
  scanner->line_ends = line_ends_inside(reader, state, second, indent);
  if (scanner->document == NOT_SEEN) {
    scanner->document = first == NAME && strcmp(word, "plan") == 0   ? PLAN
                        : first == NAME && strcmp(word, "unit") == 0 ? UNIT
                                                                     : ELSEWHERE;
  }
  if (first != NAME) return UNREAD_LINE;
  if (second == EQUALS || second == OPEN_BRACKET) {
    if (parent && parent->kind == STAGE) return READING_LINE;
    if (parent && parent->kind == DESIGN) return DESIGN_VALUE_LINE;
  }
  if (!is_statement_word(word)) return UNREAD_LINE;
  bool in_plan = scanner->document == PLAN;
  if (strcmp(word, "table") == 0) scanner->current.kind = TABLE;
  if (strcmp(word, "log") == 0 && !in_plan) scanner->current.kind = LOG;
  if (strcmp(word, "stage") == 0 && !in_plan) scanner->current.kind = STAGE;
  if (strcmp(word, "design") == 0 && !in_plan) scanner->current.kind = DESIGN;
  if (!is_document_word(word)) return LINE;
  if (in_plan) return LINE_IN_PLAN;
  return scanner->document == UNIT ? LINE_IN_UNIT : LINE_ELSEWHERE;
}

static bool begin_line(Scanner *scanner, TSLexer *lexer, uint16_t indent) {
  Reader reader = {.lexer = lexer, .word = {0}, .waiting = OTHER, .is_waiting = false};
  Statement *parent = parent_of(scanner);
  scanner->phase = IN_LINE;
  scanner->line_ends = 0;
  scanner->in_row = false;
  scanner->current = (Statement){.indent = indent, .kind = ORDINARY, .has_header = false};
  lexer->mark_end(lexer);
  enum TokenType type;
  if (parent && (parent->kind == TABLE || parent->kind == LOG)) {
    type = row_line(scanner, parent, &reader);
  } else {
    type = ordinary_line(scanner, parent, &reader, indent);
  }
  scanner->in_unread = type == UNREAD_LINE;
  lexer->result_symbol = type;
  return true;
}

// ---------------------------------------------------------------- between lines

// Passes over the blanks at the beginning of a line: how many columns they take. A tab counts for two.
static uint16_t pass_blanks(TSLexer *lexer, bool skip) {
  uint32_t columns = 0;
  while (is_blank(lexer->lookahead) || lexer->lookahead == 0xFEFF) {
    if (lexer->lookahead == '\t') columns += 2;
    else if (lexer->lookahead != 0xFEFF) columns += 1;
    lexer->advance(lexer, skip);
  }
  return columns < UINT16_MAX ? (uint16_t)columns : UINT16_MAX;
}

// The indentation of the next line with anything on it; none at the end of the file.
static uint16_t find_next_indent(TSLexer *lexer) {
  while (!lexer->eof(lexer)) {
    uint16_t columns = pass_blanks(lexer, false);
    if (lexer->lookahead == '#') skip_to_line_end(lexer);
    if (lexer->eof(lexer)) break;
    if (!is_line_end(lexer->lookahead)) return columns;
    take_line_end(lexer);
  }
  return 0;
}

static bool close_or_open(Scanner *scanner, TSLexer *lexer) {
  Statement *parent = parent_of(scanner);
  if (parent && parent->indent >= scanner->next_indent) {
    scanner->depth--;
    lexer->result_symbol = DEDENT;
    return true;
  }
  scanner->phase = BETWEEN;
  if (scanner->next_indent > scanner->current.indent && scanner->depth + 2 <= MAX_OUTLINE_DEPTH) {
    scanner->open[scanner->depth++] = scanner->current;
    lexer->result_symbol = INDENT;
    return true;
  }
  return false;
}

static bool scan_in_line(Scanner *scanner, TSLexer *lexer) {
  bool tab = lexer->lookahead == '\t';
  uint32_t blanks = 0;
  while (is_blank(lexer->lookahead)) {
    blanks += lexer->lookahead < 0x80 ? 1 : 2;
    advance(lexer);
  }
  if (lexer->eof(lexer) || is_line_end(lexer->lookahead)) {
    bool goes_on = !lexer->eof(lexer) && scanner->line_ends > 0;
    take_line_end(lexer);
    if (goes_on) {
      scanner->line_ends--;
      lexer->mark_end(lexer);
      lexer->result_symbol = LINE_GOES_ON;
    } else {
      scanner->phase = OUTLINE;
      scanner->next_indent = find_next_indent(lexer);
      lexer->result_symbol = NEWLINE;
    }
    return true;
  }
  if (lexer->lookahead == '#') return false;
  if (scanner->in_row && (blanks > 1 || tab)) {
    lexer->mark_end(lexer);
    lexer->result_symbol = CELL_BREAK;
    return true;
  }
  if (!scanner->in_unread) return false;
  while (!lexer->eof(lexer) && !is_line_end(lexer->lookahead) && lexer->lookahead != '#') {
    bool text = lexer->lookahead == '"';
    bool blank = is_blank(lexer->lookahead);
    if (text) read_text(lexer);
    else advance(lexer);
    if (!blank) lexer->mark_end(lexer);
  }
  lexer->result_symbol = UNREAD_TEXT;
  return true;
}

static bool scan(Scanner *scanner, TSLexer *lexer) {
  lexer->mark_end(lexer);
  if (scanner->phase == IN_LINE) return scan_in_line(scanner, lexer);
  if (scanner->phase == OUTLINE && close_or_open(scanner, lexer)) return true;
  uint16_t indent = pass_blanks(lexer, true);
  if (lexer->eof(lexer) || lexer->lookahead == '#') return false;
  if (!is_line_end(lexer->lookahead)) return begin_line(scanner, lexer, indent);
  take_line_end(lexer);
  lexer->mark_end(lexer);
  lexer->result_symbol = LINE_GOES_ON;
  return true;
}

// ---------------------------------------------------------------- what tree-sitter calls

void *tree_sitter_ubr_external_scanner_create(void) { return ts_calloc(1, sizeof(Scanner)); }

void tree_sitter_ubr_external_scanner_destroy(void *payload) { ts_free(payload); }

unsigned tree_sitter_ubr_external_scanner_serialize(void *payload, char *buffer) {
  const Scanner *scanner = payload;
  size_t length = offsetof(Scanner, open) + scanner->depth * sizeof(Statement);
  memcpy(buffer, scanner, length);
  return (unsigned)length;
}

void tree_sitter_ubr_external_scanner_deserialize(void *payload, const char *buffer, unsigned length) {
  memset(payload, 0, sizeof(Scanner));
  if (length > 0 && length <= sizeof(Scanner)) memcpy(payload, buffer, length);
}

bool tree_sitter_ubr_external_scanner_scan(void *payload, TSLexer *lexer, const bool *valid_symbols) {
  // What a line is depends on the text alone: what the grammar expects here is not asked.
  (void)valid_symbols;
  return scan(payload, lexer);
}
