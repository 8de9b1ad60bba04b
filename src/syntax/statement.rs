//! One line, one statement: what follows each statement word.

use super::cursor::Parser;
use super::fault::{Fault, FaultKind};
use super::token::TokenKind;
use super::tree::NodeKind;

impl Parser<'_> {
    /// Reads the parts of a statement; the position stands behind its first word.
    pub fn statement_parts(&mut self, kind: NodeKind) {
        use NodeKind::*;
        match kind {
            Plan => {
                self.name("the plan's name");
                self.rev();
                if self.at_word("extends") {
                    let (first, mark) = (self.position, self.mark());
                    self.bump();
                    self.name("the name of the plan that this one extends");
                    self.rev();
                    self.finish(Extends, first, mark);
                }
            }
            PlanChoice => {
                self.name("the plan's name");
                self.rev();
            }
            Register | RegisterChoice => self.name("the register's name"),
            Title | Note | Found | Because | Caution => self.text("a text in quotes"),
            Look => {
                self.text("a text in quotes");
                while self.eat(TokenKind::Comma) {
                    self.text("another text in quotes");
                }
            }
            Decide => self.name("`simple` or `guarded`"),
            UncertaintyRatio => {
                self.number_word("the ratio of tolerance to uncertainty, such as 4")
            }
            SealedPoints => self.names("`hold`, `witness` or `review`"),
            Key => self.text("a public key in quotes, as ssh-keygen writes it"),
            Seal => self.seal(),
            Covers => self.covers(),
            Signature => self.text("the signature in quotes"),
            Set => self.set(),
            Role | Roles | Measures | After => self.names("a name"),
            Independent => {
                if !self.eat_word("of") {
                    self.expected(
                        "`of` and the reading that this one must not rest on",
                        "write: independent of turns",
                    );
                }
                self.names("a reading of the same stage");
            }
            Concessions => {
                if self.eat_word("by") {
                    self.names("a role");
                } else {
                    self.expected(
                        "`by` and the roles that may agree to a disposition",
                        "write: concessions by quality, design other than raiser",
                    );
                }
                self.other_than("raiser");
            }
            Need | May => self.declaration(),
            ReadingPlan => self.declaration(),
            ColumnPlan => {
                self.name("the column's name");
                self.kind_part();
            }
            StagePlan => {
                self.name("a name");
                self.optional_text();
            }
            LogPlan => {
                self.declared();
                self.optional_text();
                self.over();
            }
            When | Require | Causes => self.expression_or_report(),
            Calc => {
                self.declared();
                if self.eat(TokenKind::Equals) {
                    self.expression_or_report();
                } else {
                    self.expected(
                        "`=` and the expression",
                        "write: calc NAME[SET] = EXPRESSION",
                    );
                }
            }
            Check => {
                self.declared();
                self.optional_text();
            }
            Limit => self.limit(),
            Compare => self.compare(),
            SourceLine => self.source(),
            SeverityLine => self.name("`error`, `warning` or `note`"),
            Hold | Witness | Review => self.point(),
            Tighten => self.path_part("what to tighten: STAGE.NAME"),
            Relax | Drop => {
                self.path_part("what it concerns: STAGE.NAME");
                self.because_clause();
            }
            Add => {
                let (first, mark) = (self.position, self.mark());
                if self.eat_word("design") {
                    self.finish(Target, first, mark);
                } else if self.eat_word("stage") {
                    self.name("the stage's name");
                    self.finish(Target, first, mark);
                } else {
                    self.expected(
                        "`stage` and its name, or `design`",
                        "write: add stage winding",
                    );
                }
            }
            DesignPlan => {}
            Zone => self.zone(),
            Person => {
                self.path_part("the person's name");
                self.optional_text();
            }
            Instrument | Unit => {
                self.identity();
                self.optional_text();
            }
            Valid => {
                self.date("the first day");
                if self.eat(TokenKind::DotDot) {
                    self.date("the last day");
                } else {
                    self.expected(
                        "`..` and the last day",
                        "write: valid 2024-01-01 .. 2027-12-31",
                    );
                }
            }
            Retired => {
                self.date("the last day of service");
                self.optional_text();
            }
            InstrumentRange => {
                if self.value() {
                    self.for_kinds();
                } else {
                    self.skip_line();
                }
            }
            Accuracy => self.accuracy("accuracy 0.05 % of reading k = 2"),
            Uncertainty => self.accuracy("uncertainty 0.5 K k = 2 for temperature"),
            Calibrated => {
                self.date("the day of calibration");
                if self.at_word("due") {
                    let (first, mark) = (self.position, self.mark());
                    self.bump();
                    self.date("the day it falls due");
                    self.finish(Due, first, mark);
                } else {
                    self.expected("`due` and the day it falls due", "");
                }
                if self.eat_word("certificate") {
                    self.text("the certificate's number in quotes");
                }
            }
            Lot => {
                self.identity();
                if self.eat_word("unit") {
                    self.number_word("the unit's number in the lot");
                    if !self.eat_word("of") {
                        self.expected(
                            "`of` and the number of units",
                            "write: lot KFT-0412 unit 1 of 3",
                        );
                    }
                    self.number_word("the number of units");
                }
                if self.at_word("type-tested") {
                    let (first, mark) = (self.position, self.mark());
                    self.bump();
                    self.identity();
                    self.finish(TypeTested, first, mark);
                }
            }
            Design => {
                self.rev();
                self.clauses();
            }
            StageRecord => {
                self.name("the stage's name");
                if self.eat_word("round") {
                    self.number_word("the round's number");
                }
            }
            Context => {
                let line = self.end;
                let first = self.position_of_line_start();
                self.end = line;
                self.seek(first);
                self.clauses();
            }
            Table => self.table_head(),
            Log => {
                self.indexed_name("the log's name");
                if self.eat_word("from") {
                    self.text("the log file's path in quotes");
                }
                self.clauses();
            }
            ColumnMap => {
                self.header_cell();
                if self.eat_word("from") {
                    self.text("the column's name in the file, in quotes");
                } else {
                    self.expected(
                        "`from` and the column's name in the file",
                        "write: column pressure(mbar) from \"P1\"",
                    );
                }
            }
            Attach => {
                self.text("the file's path in quotes");
                self.optional_text();
            }
            Release | Witnessed | Waived | Reviewed | Notified => {
                self.name("the point's name");
                loop {
                    if matches!(self.peek(), Some(TokenKind::Text | TokenKind::OpenText)) {
                        self.text("");
                    } else if !self.clause() {
                        break;
                    }
                }
            }
            Amend => {
                self.declared_value();
                self.assigned();
                self.clauses();
                let (first, mark) = (self.position, self.mark());
                if self.eat_word("was") {
                    if !self.value() {
                        self.skip_line();
                    }
                    self.finish(WasClause, first, mark);
                } else {
                    self.expected(
                        "`was` and the value that stood before",
                        "write: amend NAME[INDEX] = NEW was OLD by … on … because \"…\"",
                    );
                }
                self.clauses();
            }
            Accept => {
                self.name("the rule whose finding is accepted");
                self.clauses();
            }
            Nonconformity => {
                self.name("the nonconformity's number");
                self.clauses();
            }
            Against => {
                self.path_part("what it is against: STAGE.NAME[INDEX]");
                if self.at(TokenKind::OpenBracket) {
                    self.index();
                }
            }
            Disposition => self.name("use-as-is, rework, repair, scrap or regrade"),
            Agreed | Closed => self.clauses(),
            _ => {}
        }
    }

    /// `reading` or `design-value`: the position stands on its name.
    pub fn assignment(&mut self) {
        self.declared_value();
        self.assigned();
        self.clauses();
    }

    fn assigned(&mut self) {
        if !self.eat(TokenKind::Equals) {
            self.expected("`=` and a value", "");
            self.skip_line();
        } else if !self.value() {
            self.skip_line();
        }
    }

    fn declared_value(&mut self) {
        let (first, mark) = (self.position, self.mark());
        self.name("a name");
        if self.at(TokenKind::OpenBracket) && !self.index() {
            self.skip_to(TokenKind::Equals);
        }
        self.finish(NodeKind::DeclaredValue, first, mark);
    }

    /// A name with its index, where nothing but clauses follows.
    fn indexed_name(&mut self, what: &str) {
        let (first, mark) = (self.position, self.mark());
        self.name(what);
        if self.at(TokenKind::OpenBracket) {
            self.index();
        }
        self.finish(NodeKind::DeclaredValue, first, mark);
    }

    /// `over frequency : frequency`, where a log does not run over time.
    fn over(&mut self) {
        if !self.at_word("over") {
            return;
        }
        let (first, mark) = (self.position, self.mark());
        self.bump();
        self.name("what the log runs over, such as frequency");
        self.kind_part();
        self.finish(NodeKind::Over, first, mark);
    }

    fn skip_to(&mut self, kind: TokenKind) {
        while self.position < self.end && !self.at(kind) {
            self.bump();
        }
    }

    fn position_of_line_start(&self) -> usize {
        // A context line has no word of its own: its first clause word was taken as the statement word.
        (0..self.position)
            .rev()
            .find(|at| !self.tokens[*at].kind.is_trivia())
            .unwrap_or(0)
    }

    /// Clauses in any order until something else stands there.
    pub fn clauses(&mut self) {
        while self.clause() {}
    }

    fn clause(&mut self) -> bool {
        let kind = match self.peek_name() {
            Some("at") => NodeKind::AtClause,
            Some("with") => NodeKind::WithClause,
            Some("by") => NodeKind::ByClause,
            Some("on") => NodeKind::OnClause,
            Some("because") => NodeKind::BecauseClause,
            _ => return false,
        };
        let (first, mark) = (self.position, self.mark());
        self.bump();
        match kind {
            NodeKind::AtClause => loop {
                if !self.quantity() {
                    self.expected("a condition with its unit", "write: at 23.4 °C");
                    break;
                }
                if !self.eat(TokenKind::Comma) {
                    break;
                }
            },
            NodeKind::WithClause => self.identity(),
            NodeKind::ByClause => self.path_part("a person's name"),
            NodeKind::OnClause => self.date("a date, 2026-03-02, with a time if wanted"),
            _ => self.text("the reason in quotes"),
        }
        self.finish(kind, first, mark);
        true
    }

    fn because_clause(&mut self) {
        if self.at_word("because") {
            self.clause();
        } else {
            let (span, _) = self.here();
            self.fault(
                Fault::new(
                    FaultKind::RelaxWithoutReason,
                    span,
                    "expected `because` and a reason in quotes, found none",
                )
                .help("say why: because \"units of this family leave by the works' own rail\""),
            );
        }
    }

    fn table_head(&mut self) {
        let named = matches!(self.peek(), Some(TokenKind::Name))
            && !matches!(self.peek_name(), Some("at" | "with" | "by" | "on"));
        if named {
            let (first, mark) = (self.position, self.mark());
            let mut glued = self.glued_next() == Some(TokenKind::OpenParen);
            self.leaf(NodeKind::Name);
            if self.at(TokenKind::OpenBracket) {
                self.index();
                glued = self.at(TokenKind::OpenParen);
            }
            if glued {
                self.unit_in_parens();
            }
            self.finish(NodeKind::DeclaredValue, first, mark);
        }
        self.clauses();
    }

    fn header_cell(&mut self) {
        let (first, mark) = (self.position, self.mark());
        let glued = self.glued_next() == Some(TokenKind::OpenParen);
        self.name("the column's name");
        if glued && self.at(TokenKind::OpenParen) {
            self.unit_in_parens();
        }
        self.finish(NodeKind::HeaderCell, first, mark);
    }

    fn set(&mut self) {
        self.name("the set's name");
        if self.at_word("from") {
            let (first, mark) = (self.position, self.mark());
            self.bump();
            self.path_part("where its members come from: design.NAME");
            self.finish(NodeKind::From, first, mark);
            return;
        }
        // A set with nothing behind its name is the plan's to report: it has no source.
        if !self.eat(TokenKind::Equals) && self.position < self.end {
            self.expected(
                "`=` and the members, or `from` and where they come from",
                "write: set phase = U V W",
            );
        }
        while matches!(self.peek(), Some(TokenKind::Name | TokenKind::Number)) {
            self.leaf(NodeKind::Member);
            self.eat(TokenKind::Comma);
        }
    }

    fn declaration(&mut self) {
        self.declared();
        self.kind_part();
    }

    fn kind_part(&mut self) {
        if !self.eat(TokenKind::Colon) {
            self.expected(
                "`:` and the kind",
                "write: reading height[winding, phase] : length",
            );
            return;
        }
        let (first, mark) = (self.position, self.mark());
        self.name("a kind, such as length or voltage");
        if self.eat(TokenKind::OpenParen) {
            self.names("a choice");
            if !self.eat(TokenKind::CloseParen) {
                self.expected("`)` after the choices", "");
            }
        }
        if self.at_word("given") {
            let (first, mark) = (self.position, self.mark());
            self.bump();
            self.names("a condition's kind");
            self.finish(NodeKind::Given, first, mark);
        }
        self.finish(NodeKind::Kind, first, mark);
    }

    fn declared(&mut self) {
        let (first, mark) = (self.position, self.mark());
        self.name("a name");
        if self.eat(TokenKind::OpenBracket) {
            self.names("a set's name");
            if !self.eat(TokenKind::CloseBracket) {
                self.expected("`]` after the sets", "");
            }
        }
        self.finish(NodeKind::Declared, first, mark);
    }

    fn limit(&mut self) {
        match self.peek() {
            Some(TokenKind::Equals) => {
                self.bump();
                self.expression_or_report();
            }
            Some(TokenKind::Less | TokenKind::AtMost | TokenKind::Greater | TokenKind::AtLeast) => {
                let (first, mark) = (self.position, self.mark());
                self.bump();
                self.expression_or_report();
                self.finish(NodeKind::Bound, first, mark);
            }
            _ => {
                if !self.interval() {
                    self.skip_line();
                }
            }
        }
    }

    /// `compare beyond 4 floor 0.5 % of median`, every part of it optional.
    fn compare(&mut self) {
        if self.at_word("beyond") {
            let (first, mark) = (self.position, self.mark());
            self.bump();
            self.number_word("how many times the scatter of the sister units");
            self.finish(NodeKind::Beyond, first, mark);
        }
        if !self.at_word("floor") {
            return;
        }
        let (first, mark) = (self.position, self.mark());
        self.bump();
        if !self.quantity() {
            self.expected(
                "the least scatter that is reckoned with",
                "write: floor 0.5 % of median, or floor 1 dB",
            );
        }
        if self.at_word("of") {
            let (first, mark) = (self.position, self.mark());
            self.bump();
            if !self.eat_word("median") {
                self.expected("`median`", "write: floor 0.5 % of median");
            }
            self.finish(NodeKind::OfMedian, first, mark);
        }
        self.finish(NodeKind::Floor, first, mark);
    }

    fn source(&mut self) {
        match self.peek() {
            Some(TokenKind::Text | TokenKind::OpenText) => self.text("a source in quotes"),
            Some(TokenKind::Name) => {
                self.leaf(NodeKind::Name);
                self.optional_text();
            }
            _ => self.expected(
                "a source",
                "write the standard and clause in quotes, or common-practice, works, order or physics",
            ),
        }
        if self.at_word("from") {
            let (first, mark) = (self.position, self.mark());
            self.bump();
            if !self.eat_word("memory") {
                self.expected(
                    "`memory`",
                    "write: source \"IEC 60076-1:2011, Table 1\" from memory",
                );
            }
            self.finish(NodeKind::Memory, first, mark);
        }
    }

    fn point(&mut self) {
        self.name("the point's name, such as H10");
        self.optional_text();
        if self.eat_word("by") {
            self.names("a role");
        }
        self.other_than("measurer");
        if self.at_word("notice") {
            let (first, mark) = (self.position, self.mark());
            self.bump();
            if !self.quantity() {
                self.expected("the time of notice", "write: notice 5 d");
            }
            self.finish(NodeKind::Notice, first, mark);
        }
        if self.at_word("sealed") {
            self.leaf(NodeKind::Sealed);
        }
    }

    /// `seal`: its own digest and that of the seal before it.
    fn seal(&mut self) {
        self.text("the seal in quotes, as `stagebook seal` writes it");
        let (first, mark) = (self.position, self.mark());
        if !self.eat_word("after") {
            self.expected(
                "`after` and the seal before this one, or `after nothing`",
                "a seal is written by `stagebook seal`, never by hand",
            );
            return;
        }
        if self.at_word("nothing") {
            self.leaf(NodeKind::Name);
        } else {
            self.text("the seal before this one in quotes, or `nothing`");
        }
        self.finish(NodeKind::Predecessor, first, mark);
    }

    /// `covers`: the parts that a seal covers, each with its digest.
    fn covers(&mut self) {
        loop {
            let (first, mark) = (self.position, self.mark());
            self.name("the name of a part");
            self.text("the part's digest in quotes");
            self.finish(NodeKind::Part, first, mark);
            if !self.at(TokenKind::Name) {
                break;
            }
        }
    }

    /// `other than measurer`: who may not act, whatever their role.
    fn other_than(&mut self, whom: &str) {
        if !self.at_other_than() {
            return;
        }
        let (first, mark) = (self.position, self.mark());
        self.bump();
        self.bump();
        if !self.eat_word(whom) {
            self.expected(
                &format!("`{whom}` after `other than`"),
                &format!("write: other than {whom}"),
            );
        }
        self.finish(NodeKind::OtherThan, first, mark);
    }

    fn at_other_than(&self) -> bool {
        self.at_word("other")
            && self
                .after_next()
                .is_some_and(|at| self.text_of(at) == "than")
    }

    fn accuracy(&mut self, example: &str) {
        loop {
            let (first, mark) = (self.position, self.mark());
            if !self.quantity() {
                self.expected("a number with its unit", &format!("write: {example}"));
                return;
            }
            if self.eat_word("of") {
                self.name("`reading` or `range`");
            }
            self.finish(NodeKind::AccuracyTerm, first, mark);
            if !self.eat(TokenKind::Plus) {
                break;
            }
        }
        if self.at_word("k") {
            let (first, mark) = (self.position, self.mark());
            self.bump();
            if !self.eat(TokenKind::Equals) {
                self.expected("`=`", "write: k = 2");
            }
            self.number_word("the coverage factor");
            self.finish(NodeKind::Coverage, first, mark);
        }
        self.for_kinds();
    }

    /// `for voltage, current`, where a line does not hold for every kind that it fits.
    fn for_kinds(&mut self) {
        if self.at_word("for") {
            let (first, mark) = (self.position, self.mark());
            self.bump();
            self.names("a kind, such as voltage");
            self.finish(NodeKind::ForKinds, first, mark);
        }
    }

    fn zone(&mut self) {
        let (first, mark) = (self.position, self.mark());
        match self.peek() {
            Some(TokenKind::Plus | TokenKind::Minus) => {
                self.bump();
                if !self.eat(TokenKind::Time) {
                    self.expected("an offset such as +01:00", "");
                }
            }
            Some(TokenKind::Name) => {
                self.bump();
                while self.at(TokenKind::Slash) {
                    self.bump();
                    if !self.eat(TokenKind::Name) {
                        self.expected("the rest of the zone's name", "");
                    }
                }
            }
            _ => self.expected("a time zone", "write: zone Europe/Vienna, or zone +01:00"),
        }
        self.finish(NodeKind::ZoneName, first, mark);
    }

    fn rev(&mut self) {
        if !self.at_word("rev") {
            return;
        }
        let (first, mark) = (self.position, self.mark());
        self.bump();
        if matches!(self.peek(), Some(TokenKind::Name | TokenKind::Number)) {
            self.leaf(NodeKind::Word);
        } else {
            self.expected("the revision", "write: rev C");
        }
        self.finish(NodeKind::Rev, first, mark);
    }

    pub fn name(&mut self, what: &str) {
        if self.at(TokenKind::Name) {
            self.leaf(NodeKind::Name);
        } else {
            self.expected(what, "");
        }
    }

    fn names(&mut self, what: &str) {
        self.name(what);
        while self.at(TokenKind::Comma) || self.at(TokenKind::Name) {
            let next = ["given", "notice", "sealed"]
                .iter()
                .any(|word| self.at_word(word));
            if next || self.at_other_than() {
                break;
            }
            self.eat(TokenKind::Comma);
            self.name(what);
        }
    }

    fn identity(&mut self) {
        match self.peek() {
            Some(TokenKind::Name) => self.path(NodeKind::Path),
            Some(TokenKind::Text) => {
                self.leaf(NodeKind::TextPart);
            }
            Some(TokenKind::OpenText) => self.open_text(),
            _ => self.expected("a name, or a text in quotes", ""),
        }
    }

    fn path_part(&mut self, what: &str) {
        if self.at(TokenKind::Name) {
            self.path(NodeKind::Path);
        } else {
            self.expected(what, "");
        }
    }

    pub fn text(&mut self, what: &str) {
        match self.peek() {
            Some(TokenKind::Text) => {
                self.leaf(NodeKind::TextPart);
            }
            Some(TokenKind::OpenText) => self.open_text(),
            _ => self.expected(what, ""),
        }
    }

    fn optional_text(&mut self) {
        if matches!(self.peek(), Some(TokenKind::Text | TokenKind::OpenText)) {
            self.text("");
        }
    }

    fn date(&mut self, what: &str) {
        if self.at(TokenKind::Date) {
            self.date_time();
        } else {
            self.expected(what, "dates are written 2026-03-02, year first");
            if self.at(TokenKind::Number) {
                self.skip_line();
            }
        }
    }

    fn number_word(&mut self, what: &str) {
        if self.at(TokenKind::Number) {
            self.leaf(NodeKind::Word);
        } else {
            self.expected(what, "");
        }
    }

    fn expression_or_report(&mut self) {
        if !self.expression() {
            self.skip_line();
        }
    }
}
