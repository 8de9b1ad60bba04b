//! The lossless tree: a table of nodes over the token list, linked by index.

use super::fault::Fault;
use super::token::{Token, TokenKind};
use crate::text::Span;
use std::sync::Arc;

/// Index of a node.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NodeId(pub u32);

pub(super) const NONE: u32 = u32::MAX;

/// Which of the three documents this is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum DocumentKind {
    /// Begins with `plan`.
    Plan,
    /// Begins with `register`.
    Register,
    /// Begins with `unit`.
    Unit,
    /// Begins with something else, or is empty.
    Unknown,
}

macro_rules! node_kinds {
    ($($(#[$doc:meta])* $name:ident => $production:literal,)*) => {
        /// What a node is. Each kind stands for one production of the grammar.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        #[repr(u8)]
        #[allow(missing_docs)]
        pub enum NodeKind { $($(#[$doc])* $name,)* }

        impl NodeKind {
            /// Every kind, in the order of the grammar.
            pub const ALL: &'static [NodeKind] = &[$(NodeKind::$name,)*];

            /// The production of `grammar/ubr.ebnf` that this kind stands for.
            pub fn production(self) -> &'static str {
                match self { $(NodeKind::$name => $production,)* }
            }
        }
    };
}

node_kinds! {
    Document => "document",
    // Plan statements.
    Plan => "plan", Title => "title", SealedPoints => "sealed", Decide => "decide",
    UncertaintyRatio => "uncertainty-ratio", Uncertainty => "uncertainty", Set => "set", Role => "role",
    DesignPlan => "design-plan", Need => "need", May => "may", StagePlan => "stage-plan",
    After => "after", When => "when", ReadingPlan => "reading-plan", LogPlan => "log-plan",
    ColumnPlan => "column-plan", Over => "over", Calc => "calc", Check => "check", Require => "require",
    Limit => "limit", SourceLine => "source", Because => "because", Look => "look", Caution => "caution",
    SeverityLine => "severity", Causes => "causes", Compare => "compare", Independent => "independent",
    Concessions => "concessions", Hold => "point-plan", Witness => "point-plan",
    Review => "point-plan", Tighten => "tighten", Relax => "relax", Drop => "drop", Add => "add",
    // Register statements.
    Register => "register", Zone => "zone", Person => "person", Key => "key", Roles => "roles",
    Valid => "valid", Retired => "retired", Instrument => "instrument", Measures => "measures", InstrumentRange => "instrument-range",
    Accuracy => "accuracy", Calibrated => "calibrated",
    // Unit statements.
    Unit => "unit", PlanChoice => "plan-choice", RegisterChoice => "register-choice", Lot => "lot",
    Design => "design", DesignValue => "design-value", StageRecord => "stage-record",
    Context => "context", Reading => "reading", Table => "table", Log => "log",
    ColumnMap => "column-map", HeaderRow => "header-row", Row => "row", Attach => "attach",
    Note => "note", Accept => "accept", Release => "release", Witnessed => "witnessed", Waived => "waived",
    Reviewed => "reviewed", Notified => "notified", Seal => "seal", Covers => "covers",
    Signature => "signature", Amend => "amend", Nonconformity => "nonconformity",
    Against => "against", Found => "found", Disposition => "disposition", Agreed => "agreed",
    Closed => "closed",
    /// A line that could not be read as any statement.
    Broken => "document",
    // Parts of statements.
    Name => "name", Path => "path", Word => "word", TextPart => "text", Member => "member",
    Declared => "declared", DeclaredValue => "declared-value", Kind => "kind", Given => "kind",
    Rev => "plan", Extends => "plan", From => "set", Target => "add", Notice => "point-plan", OtherThan => "other-than",
    Sealed => "point-plan",
    AtClause => "at", WithClause => "with", ByClause => "by", OnClause => "on",
    BecauseClause => "because-clause", WasClause => "amend", UnitPart => "unit-name",
    HeaderCell => "header-cell", AccuracyTerm => "accuracy-term", Coverage => "accuracy-statement",
    ForKinds => "for-kinds",
    Predecessor => "predecessor", Part => "part",
    Memory => "source", Due => "calibrated", ZoneName => "zone-name",
    Beyond => "compare", Floor => "compare", OfMedian => "compare", TypeTested => "lot", Index => "index", Star => "index-part",
    // Values and expressions.
    Pending => "value", NotApplicable => "value", Bound => "bound", Range => "range",
    PlusMinus => "toleranced", PlusSlashMinus => "toleranced", Quantity => "quantity",
    DateTime => "date-time", NameList => "name-list",
    If => "expression", Or => "disjunction", And => "conjunction", Not => "negation",
    Equal => "comparison", NotEqual => "comparison", Less => "comparison", AtMost => "comparison",
    Greater => "comparison", AtLeast => "comparison", In => "relation", Sum => "sum",
    Difference => "sum", Product => "product", Quotient => "product", Power => "power",
    Negative => "prefix", Call => "call", Reference => "reference", Group => "primary",
    /// What was left over on a line.
    Rest => "document",
}

/// One node: its tokens, its place in the tree.
#[derive(Clone, Copy, Debug)]
pub struct Node {
    /// What it is.
    pub kind: NodeKind,
    /// First token.
    pub first: u32,
    /// One past the last token of its own line.
    pub head: u32,
    /// One past the last token of its outline.
    pub last: u32,
    pub(super) parent: u32,
    pub(super) child: u32,
    pub(super) next: u32,
}

/// A statement stands below an older node; a part below the node that was made of it.
pub(super) fn is_statement(node: Node, id: u32) -> bool {
    node.parent != NONE && node.parent < id
}

/// A parsed document.
#[derive(Clone, Debug)]
pub struct Tree {
    pub(super) text: Arc<str>,
    pub(super) tokens: Vec<Token>,
    pub(super) nodes: Vec<Node>,
    /// What is wrong with the text, in order of place.
    pub faults: Vec<Fault>,
    /// Which document it is.
    pub document: DocumentKind,
}

impl Tree {
    /// The text it was made from.
    pub fn text(&self) -> &Arc<str> {
        &self.text
    }

    /// All tokens in order.
    pub fn tokens(&self) -> &[Token] {
        &self.tokens
    }

    /// Number of nodes.
    pub fn len(&self) -> usize {
        self.nodes.len()
    }

    /// True when the document has no statement.
    pub fn is_empty(&self) -> bool {
        self.node(self.root()).child == NONE
    }

    /// The document node.
    pub fn root(&self) -> NodeId {
        NodeId(0)
    }

    /// A node by its index.
    pub fn node(&self, id: NodeId) -> &Node {
        &self.nodes[id.0 as usize]
    }

    /// What a node is.
    pub fn kind(&self, id: NodeId) -> NodeKind {
        self.node(id).kind
    }

    /// The node that it belongs to.
    pub fn parent(&self, id: NodeId) -> Option<NodeId> {
        let parent = self.node(id).parent;
        (parent != NONE).then_some(NodeId(parent))
    }

    /// Its children in order: the parts of its line, then the statements below it.
    pub fn children(&self, id: NodeId) -> Children<'_> {
        Children {
            tree: self,
            next: self.node(id).child,
        }
    }

    /// The first child of a kind.
    pub fn child(&self, id: NodeId, kind: NodeKind) -> Option<NodeId> {
        self.children(id).find(|child| self.kind(*child) == kind)
    }

    /// Whether there is any node of a kind.
    pub fn holds(&self, kind: NodeKind) -> bool {
        self.nodes.iter().any(|node| node.kind == kind)
    }

    /// First byte of a token.
    pub fn token_start(&self, token: usize) -> u32 {
        if token == 0 {
            0
        } else {
            self.tokens[token - 1].end
        }
    }

    /// The bytes of a token.
    pub fn token_span(&self, token: usize) -> Span {
        Span::new(self.token_start(token), self.tokens[token].end)
    }

    /// The text of a token.
    pub fn token_text(&self, token: usize) -> &str {
        &self.text[self.token_span(token).range()]
    }

    /// The bytes of a node's own line (for a part: the part).
    pub fn span(&self, id: NodeId) -> Span {
        let node = self.node(id);
        self.tokens_span(node.first, node.head)
    }

    /// The bytes of a node with all that belongs to it.
    pub fn outline_span(&self, id: NodeId) -> Span {
        let node = self.node(id);
        self.tokens_span(node.first, node.last)
    }

    fn tokens_span(&self, first: u32, last: u32) -> Span {
        let start = if (first as usize) < self.tokens.len() {
            self.token_start(first as usize)
        } else {
            self.text.len() as u32
        };
        let end = if last == 0 {
            0
        } else {
            self.tokens[last as usize - 1].end
        };
        Span::new(start, end.max(start))
    }

    /// The text of a node's own line (for a part: the part).
    pub fn text_of(&self, id: NodeId) -> &str {
        &self.text[self.span(id).range()]
    }

    /// The text inside the quotes of a text node, with `\"` and `\\` resolved.
    pub fn unquoted(&self, id: NodeId) -> String {
        let text = self.text_of(id);
        let inner = text.strip_prefix('"').unwrap_or(text);
        let inner = inner.strip_suffix('"').unwrap_or(inner);
        if !inner.contains('\\') {
            return inner.to_owned();
        }
        let mut plain = String::with_capacity(inner.len());
        let mut characters = inner.chars();
        while let Some(character) = characters.next() {
            match character {
                '\\' => plain.extend(characters.next()),
                other => plain.push(other),
            }
        }
        plain
    }

    /// The last statement that begins at or before a byte. Statements stand in the table of nodes in the order of the
    /// text, each behind its parts.
    pub fn statement_at(&self, byte: u32) -> Option<NodeId> {
        let (mut low, mut high) = (1_u32, self.nodes.len() as u32);
        let mut best = None;
        while low < high {
            let middle = low + (high - low) / 2;
            let Some(statement) =
                (middle..high).find(|id| is_statement(self.nodes[*id as usize], *id))
            else {
                high = middle;
                continue;
            };
            if self.token_start(self.nodes[statement as usize].first as usize) <= byte {
                best = Some(NodeId(statement));
                low = statement + 1;
            } else {
                high = middle;
            }
        }
        best
    }

    /// The significant tokens of a node's own line.
    pub fn significant(&self, id: NodeId) -> impl Iterator<Item = (usize, TokenKind)> + '_ {
        let node = self.node(id);
        (node.first as usize..node.head as usize)
            .map(|index| (index, self.tokens[index].kind))
            .filter(|(_, kind)| !kind.is_trivia())
    }

    /// The name of a `stage` statement of a record, and its round, from 1.
    pub fn stage_and_round(&self, statement: NodeId) -> Option<(NodeId, u32)> {
        let name = self.child(statement, NodeKind::Name)?;
        let round = self
            .child(statement, NodeKind::Word)
            .and_then(|word| self.text_of(word).parse().ok())
            .unwrap_or(1);
        Some((name, round))
    }

    /// The stages of a record: what each takes with all that belongs to it, and its name.
    pub fn stages(&self) -> Vec<(Span, Arc<str>)> {
        self.children(self.root())
            .filter(|statement| self.kind(*statement) == NodeKind::StageRecord)
            .filter_map(|statement| {
                let name = self.child(statement, NodeKind::Name)?;
                Some((self.outline_span(statement), self.text_of(name).into()))
            })
            .collect()
    }

    /// The text put together from the tokens again; equal to the text by construction, checked in tests.
    pub fn print(&self) -> String {
        (0..self.tokens.len())
            .map(|token| self.token_text(token))
            .collect()
    }
}

/// Iterator over a node's children.
pub struct Children<'t> {
    tree: &'t Tree,
    next: u32,
}

impl Iterator for Children<'_> {
    type Item = NodeId;

    fn next(&mut self) -> Option<NodeId> {
        if self.next == NONE {
            return None;
        }
        let id = NodeId(self.next);
        self.next = self.tree.nodes[self.next as usize].next;
        Some(id)
    }
}
