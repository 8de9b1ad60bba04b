//! The table of nodes while a document is parsed.

use super::tree::{Node, NodeId};
use std::ops::{Index, IndexMut};

/// Nodes that are made, behind those of an earlier text up to some number. What stood there behind them is not looked at
/// until it is joined again, so that a large table stays where it is while a few lines are parsed.
#[derive(Debug, Default)]
pub(super) struct Nodes {
    /// The nodes of the earlier text, all of them; none where the whole is parsed.
    earlier: Vec<Node>,
    /// So many of them count.
    kept: usize,
    new: Vec<Node>,
}

impl Nodes {
    /// No nodes, with room for some.
    pub fn with_capacity(capacity: usize) -> Nodes {
        Nodes {
            earlier: Vec::new(),
            kept: 0,
            new: Vec::with_capacity(capacity),
        }
    }

    /// The first nodes of an earlier text.
    pub fn behind(earlier: Vec<Node>, kept: usize) -> Nodes {
        Nodes {
            earlier,
            kept,
            new: Vec::new(),
        }
    }

    /// The number of the next node.
    pub fn next(&self) -> NodeId {
        NodeId((self.kept + self.new.len()) as u32)
    }

    pub fn push(&mut self, node: Node) {
        self.new.push(node);
    }

    /// All nodes of the earlier text.
    pub fn earlier(&self) -> &[Node] {
        &self.earlier
    }

    /// Those of the earlier text that count.
    pub fn kept(&self) -> &[Node] {
        &self.earlier[..self.kept]
    }

    /// Those of the earlier text that stood behind.
    pub fn put_aside(&self) -> &[Node] {
        &self.earlier[self.kept..]
    }

    /// Puts all together: the new nodes stand in the place of the first `gone` of those that were put aside. What `moved`
    /// gives takes the place of the others, where anything moves.
    pub fn join(self, gone: usize, moved: Option<impl Fn(Node) -> Node>) -> Vec<Node> {
        let Nodes {
            mut earlier,
            kept,
            new,
        } = self;
        if earlier.is_empty() {
            return new;
        }
        if let Some(moved) = moved {
            for node in &mut earlier[kept + gone..] {
                *node = moved(*node);
            }
        }
        earlier.splice(kept..kept + gone, new);
        earlier
    }

    /// All nodes, where the whole was parsed.
    pub fn all(self) -> Vec<Node> {
        self.join(0, None::<fn(Node) -> Node>)
    }
}

impl Index<NodeId> for Nodes {
    type Output = Node;

    fn index(&self, id: NodeId) -> &Node {
        let at = id.0 as usize;
        match at.checked_sub(self.kept) {
            Some(at) => &self.new[at],
            None => &self.earlier[at],
        }
    }
}

impl IndexMut<NodeId> for Nodes {
    fn index_mut(&mut self, id: NodeId) -> &mut Node {
        let at = id.0 as usize;
        match at.checked_sub(self.kept) {
            Some(at) => &mut self.new[at],
            None => &mut self.earlier[at],
        }
    }
}
