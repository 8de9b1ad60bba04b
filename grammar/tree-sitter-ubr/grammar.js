/**
 * @file Plans, registers and unit build records (.ubr), after ../ubr.ebnf, which is normative.
 *
 * What a line is, where it ends and what belongs below it is found by the scanner (src/scanner.c), which
 * looks at whole lines as the real parser does. Before every statement it puts an empty token that says
 * how the line is to be read; so a broken line never changes what the lines around it are.
 *
 * Nodes bear the names of the productions. Where a statement may stand is left to the real parser: here it
 * may stand anywhere, so that a line in the wrong place keeps its colours.
 */

/// <reference types="tree-sitter-cli/dsl" />

const NAME = /([0-9]+-)*[0-9]*[\p{L}_][\p{L}\p{N}_]*(-[\p{L}\p{N}_]+)*/;
const NUMBER = /[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?/;
const TIME = /[0-9]{1,2}:[0-9]{2}(:[0-9]{2})?/;
// What may follow the first part of a unit: no white space inside.
const UNIT_REST =
  /(\^[-−]?[0-9]+(\.[0-9]+)?)?([*·×\/](%|°[CF]|[\p{L}_][\p{L}\p{N}_]*(-[\p{L}\p{N}_]+)*)(\^[-−]?[0-9]+(\.[0-9]+)?)?)+|\^[-−]?[0-9]+(\.[0-9]+)?/;

const LEVEL = { if: 1, or: 2, and: 3, not: 4, relation: 5, sum: 6, product: 7, negative: 8, power: 9, call: 10 };

/** A statement: its own line, then what is indented below it. */
const line = ($, ...parts) => prec.right(seq(...parts, $._newline, optional($.block)));

/** `a, b c`: names with or without commas between them. */
const names = $ => seq($.name, repeat(seq(optional(','), $.name)));

module.exports = grammar({
  name: 'ubr',

  externals: $ => [
    // How the line that begins here is to be read.
    $._line, // a statement that is the same in every document
    $._line_in_plan, // one of the words that mean something else in each document
    $._line_in_unit,
    $._line_elsewhere,
    $._reading_line,
    $._design_value_line,
    $._header_line,
    $._row_line,
    $._unread_line,
    // Its outline.
    $._newline,
    $._indent,
    $._dedent,
    // A line end that ends nothing: blank lines, comment lines, unfinished lines that go on.
    $._line_goes_on,
    // Two blanks or more between cells.
    $._cell_break,
    $.unread_text,
  ],

  extras: $ => [/[ \t\u00a0\u2009\u202f\ufeff]/, $.comment, $._line_goes_on],

  word: $ => $.name,

  conflicts: $ => [
    // `3 in`: three inches, or whether the three lies in what follows.
    [$.quantity],
    [$._plain_quantity],
  ],

  rules: {
    document: $ => repeat($._item),

    _item: $ =>
      choice(
        seq($._line, $._statement),
        seq($._line_in_plan, choice($.plan, $.register, $.design_plan, $.stage_plan, $.log_plan, $.column_plan)),
        seq($._line_in_unit, choice($.plan_choice, $.register_choice, $.design, $.stage_record, $.log, $.column_map)),
        seq($._line_elsewhere, choice($.plan, $.register, $.design, $.stage_record, $.log, $.column_map)),
        seq($._reading_line, $.reading),
        seq($._design_value_line, $.design_value),
        seq($._header_line, $.header_row),
        seq($._row_line, $.row),
        seq($._unread_line, $.unread_line),
        // Left over from a broken line: so its end and what is below it are read as ever.
        $._newline,
        $.block,
      ),

    block: $ => seq($._indent, repeat($._item), $._dedent),

    _statement: $ =>
      choice(
        $.title, $.decide, $.uncertainty_ratio, $.uncertainty, $.concessions, $.sealed, $.set, $.role,
        $.need, $.may, $.after, $.when, $.reading_plan, $.independent, $.calc, $.check, $.require, $.limit,
        $.compare, $.source, $.because, $.look, $.caution, $.severity, $.causes, $.point_plan, $.tighten,
        $.relax, $.drop, $.add,
        $.zone, $.person, $.key, $.roles, $.valid, $.retired, $.instrument, $.measures, $.instrument_range,
        $.accuracy, $.calibrated,
        $.unit, $.lot, $.context, $.table, $.attach, $.note, $.accept, $.release, $.witnessed, $.waived,
        $.reviewed, $.notified, $.seal, $.covers, $.signature, $.amend, $.nonconformity, $.against, $.found,
        $.disposition, $.agreed, $.closed,
      ),

    // A line that begins with no statement word and gives no value.
    unread_line: $ => line($, repeat1($.unread_text)),

    // ------------------------------------------------------------------ plan

    plan: $ => line($, 'plan', field('name', $.name), optional($.rev), optional($.extends)),
    rev: $ => seq('rev', $._word),
    extends: $ => seq('extends', field('name', $.name), optional($.rev)),
    _word: $ => choice($.name, $.number),
    title: $ => line($, 'title', $._text),
    decide: $ => line($, 'decide', $.name),
    uncertainty_ratio: $ => line($, 'uncertainty-ratio', $.number),
    uncertainty: $ => line($, 'uncertainty', $._accuracy_statement),
    concessions: $ => line($, 'concessions', 'by', $.roles_list, optional($.other_than)),
    sealed: $ => line($, 'sealed', names($)),
    set: $ =>
      line($, 'set', field('name', $.name), optional(choice($._members, seq('from', field('from', $.path))))),
    _members: $ => seq('=', repeat(seq($.member, optional(',')))),
    member: $ => choice($.name, $.number),
    role: $ => line($, 'role', $.roles_list),
    roles_list: $ => names($),

    design_plan: $ => line($, 'design'),
    need: $ => line($, 'need', $.declared, ':', $.kind),
    may: $ => line($, 'may', $.declared, ':', $.kind),
    declared: $ => seq(field('name', $.name), optional(seq('[', field('index', $.index_names), ']'))),
    index_names: $ => names($),
    kind: $ =>
      seq(field('name', $.name), optional(seq('(', field('choices', $.choices), ')')), optional($.given)),
    choices: $ => names($),
    given: $ => seq('given', names($)),

    stage_plan: $ => line($, 'stage', field('name', $.name), optional($._text)),
    after: $ => line($, 'after', names($)),
    when: $ => line($, 'when', $._expression),
    reading_plan: $ => line($, 'reading', $.declared, ':', $.kind),
    independent: $ => line($, 'independent', 'of', names($)),
    log_plan: $ => line($, 'log', $.declared, optional($._text), optional($.over)),
    over: $ => seq('over', field('name', $.name), ':', $.kind),
    column_plan: $ => line($, 'column', field('name', $.name), ':', $.kind),
    calc: $ => line($, 'calc', $.declared, '=', $._expression),
    check: $ => line($, 'check', $.declared, optional($._text)),
    require: $ => line($, 'require', $._expression),
    limit: $ =>
      line($, 'limit', choice(seq('=', $._expression), seq($.bound_sign, $._expression), $._interval_or_sum)),
    bound_sign: _ => choice('<', '<=', '≤', '>', '>=', '≥'),
    _interval_or_sum: $ => choice($.interval, $._operand),
    interval: $ =>
      prec(LEVEL.relation,
        choice(
          seq($._operand, '..', $._operand),
          seq($._operand, $._plus_minus, $._operand),
          seq($._operand, $.one_sided),
        )),
    one_sided: $ => seq(token(/\+[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?\/[-−]/), $.number, optional($.unit_name)),
    _plus_minus: _ => choice('+-', '±'),
    compare: $ => line($, 'compare', optional(seq('beyond', $.number)), optional($.floor)),
    floor: $ => seq('floor', $.quantity, optional(seq('of', 'median'))),
    source: $ =>
      line($, 'source', choice($._text, seq(field('basis', $.name), optional($._text))), optional($.memory)),
    memory: _ => seq('from', 'memory'),
    because: $ => line($, 'because', $._text),
    look: $ => line($, 'look', $._text, repeat(seq(',', $._text))),
    caution: $ => line($, 'caution', $._text),
    severity: $ => line($, 'severity', $.name),
    causes: $ => line($, 'causes', $._expression),
    point_plan: $ =>
      line($,
        choice('hold', 'witness', 'review'),
        field('name', $.name),
        optional($._text),
        optional(seq('by', $.roles_list)),
        optional($.other_than),
        optional($.notice),
        optional('sealed'),
      ),
    other_than: _ => seq(token(/other[ \t]+than/), choice('measurer', 'raiser')),
    notice: $ => seq('notice', $.quantity),

    tighten: $ => line($, 'tighten', field('of', $.path)),
    relax: $ => line($, 'relax', field('of', $.path), $.because_clause),
    drop: $ => line($, 'drop', field('of', $.path), $.because_clause),
    add: $ => line($, 'add', choice('design', seq('stage', field('name', $.name)))),

    // ------------------------------------------------------------------ expressions

    _expression: $ => choice($.conditional, $._condition),
    conditional: $ =>
      prec.right(LEVEL.if, seq('if', $._expression, 'then', $._expression, 'else', $._expression)),
    _condition: $ => choice($.disjunction, $.conjunction, $.negation, $.relation, $._operand),
    disjunction: $ => prec.left(LEVEL.or, seq($._condition, 'or', $._condition)),
    conjunction: $ => prec.left(LEVEL.and, seq($._condition, 'and', $._condition)),
    negation: $ => prec(LEVEL.not, seq('not', $._condition)),
    relation: $ =>
      choice(
        prec.left(LEVEL.relation, seq(choice($.relation, $._operand), $.comparison, $._operand)),
        prec.left(LEVEL.relation, seq(choice($.relation, $._operand), 'in', $._interval_or_sum)),
      ),
    comparison: _ => choice('=', '!=', '≠', '<', '<=', '≤', '>', '>=', '≥'),
    _operand: $ => choice($.sum, $.product, $.prefix, $.power, $._primary),
    sum: $ => prec.left(LEVEL.sum, seq($._operand, choice('+', $._minus), $._operand)),
    product: $ => prec.left(LEVEL.product, seq($._operand, choice('*', '·', '×', '/'), $._operand)),
    prefix: $ => prec(LEVEL.negative, seq($._minus, choice($.prefix, $.power, $._primary))),
    power: $ => prec(LEVEL.power, seq($._primary, '^', choice($._primary, $.prefix))),
    _primary: $ =>
      choice(alias($._plain_quantity, $.quantity), $._text, $.date_time, $.call, $.reference, $.group),
    _plain_quantity: $ => seq($.number, optional(choice($.unit_name, alias('in', $.unit_name)))),
    group: $ => seq('(', $._expression, ')'),
    call: $ =>
      seq(
        field('function', $.name),
        token.immediate('('),
        optional(seq($._expression, repeat(seq(',', $._expression)))),
        ')',
      ),
    reference: $ => seq($.path, optional($.index)),
    path: $ => seq($.name, repeat(seq(token.immediate('.'), alias(token.immediate(NAME), $.name)))),
    index: $ => seq('[', $._index_part, repeat(seq(',', $._index_part)), ']'),
    _index_part: $ => choice($.every, $._expression),
    every: _ => choice('*', '·', '×'),

    // ------------------------------------------------------------------ register

    register: $ => line($, 'register', field('name', $.name)),
    zone: $ => line($, 'zone', $.zone_name),
    zone_name: $ =>
      choice(seq($.name, repeat(seq('/', $.name))), $.offset, seq(choice('+', $._minus), $.time)),
    person: $ => line($, 'person', field('name', $.path), optional($._text)),
    key: $ => line($, 'key', $._text),
    roles: $ => line($, 'roles', $.roles_list),
    valid: $ => line($, 'valid', $.date_time, '..', $.date_time),
    retired: $ => line($, 'retired', $.date_time, optional($._text)),
    instrument: $ => line($, 'instrument', field('name', $._identity), optional($._text)),
    _identity: $ => choice($.path, $._text),
    measures: $ => line($, 'measures', names($)),
    instrument_range: $ => line($, 'range', $._value, optional($.for_kinds)),
    accuracy: $ => line($, 'accuracy', $._accuracy_statement),
    _accuracy_statement: $ =>
      seq($.accuracy_term, repeat(seq('+', $.accuracy_term)), optional($.coverage), optional($.for_kinds)),
    accuracy_term: $ => seq($.quantity, optional(seq('of', $.name))),
    coverage: $ => seq('k', '=', $.number),
    for_kinds: $ => seq('for', names($)),
    calibrated: $ =>
      line($, 'calibrated', $.date_time, 'due', $.date_time, optional(seq('certificate', $._text))),

    // ------------------------------------------------------------------ unit

    unit: $ => line($, 'unit', field('name', $._identity), optional($._text)),
    plan_choice: $ => line($, 'plan', field('name', $.name), optional($.rev)),
    register_choice: $ => line($, 'register', field('name', $.name)),
    lot: $ =>
      line($,
        'lot',
        $._identity,
        optional(seq('unit', $.number, 'of', $.number)),
        optional(seq('type-tested', $._identity)),
      ),

    design: $ => line($, 'design', optional($.rev), repeat($._clause)),
    design_value: $ => line($, $.declared_value, '=', $._value, repeat($._clause)),
    declared_value: $ => seq(field('name', $.name), optional($.index)),

    stage_record: $ => line($, 'stage', field('name', $.name), optional(seq('round', $.number))),
    context: $ => line($, choice($.at, $.with, $.by, $.on), repeat($._clause)),
    reading: $ => line($, $.declared_value, '=', $._value, repeat($._clause)),
    _clause: $ => choice($.at, $.with, $.by, $.on, $.because_clause),
    at: $ => seq('at', $.quantity, repeat(seq(',', $.quantity))),
    with: $ => seq('with', $._identity),
    by: $ => seq('by', $.path),
    on: $ => seq('on', $.date_time),
    because_clause: $ => seq('because', $._text),

    table: $ => line($, 'table', optional(alias($._table_of, $.declared_value)), repeat($._clause)),
    _table_of: $ =>
      seq(
        field('name', $.name),
        optional(choice($._unit_in_parens, seq($.index, optional(seq('(', $._unit_of_column, ')'))))),
      ),
    _unit_in_parens: $ => seq(token.immediate('('), $._unit_of_column, ')'),
    _unit_of_column: $ => choice($.unit_name, alias($.number, $.unit_name)),
    log: $ => line($, 'log', $.declared_value, optional(seq('from', $._text)), repeat($._clause)),
    column_map: $ => line($, 'column', $.header_cell, 'from', $._text),
    header_row: $ => line($, repeat1($.header_cell)),
    header_cell: $ => seq($._word, optional($._unit_in_parens)),
    row: $ => line($, repeat1(choice($._value, $._cell_break))),

    attach: $ => line($, 'attach', $._text, optional($._text)),
    note: $ => line($, 'note', $._text),
    accept: $ => line($, 'accept', field('rule', $.name), repeat($._clause)),
    release: $ => line($, 'release', field('name', $.name), repeat($._act)),
    witnessed: $ => line($, 'witnessed', field('name', $.name), repeat($._act)),
    waived: $ => line($, 'waived', field('name', $.name), repeat($._act)),
    reviewed: $ => line($, 'reviewed', field('name', $.name), repeat($._act)),
    notified: $ => line($, 'notified', field('name', $.name), repeat($._act)),
    _act: $ => choice($._text, $._clause),
    seal: $ => line($, 'seal', $._text, $.predecessor),
    predecessor: $ => seq('after', choice('nothing', $._text)),
    covers: $ => line($, 'covers', repeat1($.part)),
    part: $ => seq(field('name', $.name), $._text),
    signature: $ => line($, 'signature', $._text),
    amend: $ =>
      line($, 'amend', $.declared_value, '=', $._value, repeat($._clause), $.was, repeat($._clause)),
    was: $ => seq('was', $._value),

    nonconformity: $ => line($, 'nonconformity', field('name', $.name), repeat($._clause)),
    against: $ => line($, 'against', $.path, optional($.index)),
    found: $ => line($, 'found', $._text),
    disposition: $ => line($, 'disposition', $.name),
    agreed: $ => line($, 'agreed', repeat($._clause)),
    closed: $ => line($, 'closed', repeat($._clause)),

    // ------------------------------------------------------------------ values

    _value: $ =>
      choice(
        $.pending,
        $.not_applicable,
        $.bound,
        $.range,
        $.toleranced,
        $.quantity,
        $.date_time,
        $._text,
        $.name_list,
      ),
    pending: _ => '?',
    not_applicable: $ => seq('n/a', $._text),
    bound: $ => seq($.bound_sign, $.quantity),
    range: $ => seq($.quantity, '..', $.quantity),
    toleranced: $ =>
      seq($.quantity, choice(seq($._plus_minus, $.quantity), seq('+', $.number, '/', $._minus, $.quantity))),
    quantity: $ => seq(optional($._minus), $.number, optional($.unit_name)),
    name_list: $ => seq($.path, repeat(seq(',', $.path))),
    date_time: $ => seq($.date, optional(seq($.time, optional($.offset)))),
    unit_name: $ =>
      choice(
        seq(choice(alias($.name, $.unit_symbol), '%', '°C', '°F', 'dB(A)'), optional($._unit_rest)),
        token(/1\/[\p{L}_%°*·×\/^\p{N}−-]+/),
      ),
    _unit_rest: _ => token.immediate(UNIT_REST),

    // ------------------------------------------------------------------ tokens

    comment: _ => token(/#[^\r\n]*/),
    _text: $ => choice($.text, $.unterminated_text),
    text: _ => token(/"([^"\\\r\n]|\\[^\r\n])*"/),
    unterminated_text: _ => token(/"([^"\\\r\n]|\\[^\r\n])*/),
    date: _ => token(/[0-9]{4}-[0-9]{2}-[0-9]{2}/),
    time: _ => token(TIME),
    offset: _ => token(/[+\-−][0-9]{1,2}:[0-9]{2}(:[0-9]{2})?/),
    number: _ => token(NUMBER),
    name: _ => token(NAME),
    _minus: _ => choice('-', '−'),
  },
});
