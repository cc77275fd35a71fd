//! What stands where in the order of reading, for who has the file read out: headings, paragraphs,
//! lists, tables with the titles of their columns, and what each picture says (PDF/UA-1, ISO
//! 14289-1; the document library checks it as it writes).

use krilla::tagging::{
    Identifier, ListNumbering, Node, TableHeaderScope, Tag, TagGroup, TagKind, TagTree,
};
use std::num::NonZeroU16;

/// What something on paper is.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Kind {
    /// A title of this rank: 1 the document's own, 2 of a section, 3 within one.
    Title(u16, String),
    Paragraph,
    List,
    Item,
    Table,
    Caption,
    Row,
    /// The title of a column, or of a row.
    Column,
    RowTitle,
    Cell,
    /// A picture, and what it says.
    Figure(String),
    /// Letters to be compared one by one.
    Code,
}

impl Kind {
    /// Whether text stands in it without anything between.
    fn holds_text(&self) -> bool {
        !matches!(self, Self::List | Self::Table | Self::Row | Self::Figure(_))
    }

    fn tag(&self) -> TagKind {
        match self {
            Self::Title(rank, title) => {
                let rank = NonZeroU16::new(*rank).unwrap_or(NonZeroU16::MIN);
                Tag::Hn(rank, Some(title.clone())).into()
            }
            Self::Paragraph => Tag::P.into(),
            Self::List => Tag::L(ListNumbering::Disc).into(),
            Self::Item => Tag::LI.into(),
            Self::Table => Tag::Table.into(),
            Self::Caption => Tag::Caption.into(),
            Self::Row => Tag::TR.into(),
            Self::Column => Tag::TH(TableHeaderScope::Column).into(),
            Self::RowTitle => Tag::TH(TableHeaderScope::Row).into(),
            Self::Cell => Tag::TD.into(),
            Self::Figure(says) => Tag::Figure(Some(says.clone())).into(),
            Self::Code => Tag::Code.into(),
        }
    }
}

#[derive(Debug, Clone)]
struct Element {
    kind: Kind,
    within: Option<usize>,
}

/// The order of reading.
#[derive(Debug, Clone, Default)]
pub(super) struct Structure {
    elements: Vec<Element>,
    here: Option<usize>,
    /// What is drawn now is drawn again, for the eye alone.
    silent: bool,
}

impl Structure {
    /// Begins something within what is begun already; what was current before.
    pub(super) fn begin(&mut self, kind: Kind) -> Option<usize> {
        let before = self.here;
        if !self.silent {
            self.elements.push(Element { kind, within: before });
            self.here = Some(self.elements.len() - 1);
        }
        before
    }

    /// Ends it.
    pub(super) fn end(&mut self, before: Option<usize>) {
        if !self.silent {
            self.here = before;
        }
    }

    /// From here on nothing is read out, or it is again; as it was before.
    pub(super) fn silence(&mut self, silent: bool) -> bool {
        std::mem::replace(&mut self.silent, silent)
    }

    /// Whether text needs something to stand in.
    pub(super) fn is_bare(&self) -> bool {
        !self.silent && self.here.is_none_or(|here| !self.elements[here].kind.holds_text())
    }

    /// What text that is drawn now belongs to.
    pub(super) fn of_text(&self) -> Option<usize> {
        self.here.filter(|_| !self.silent)
    }

    /// What a picture that is drawn now belongs to; a mark beside a word belongs to nothing.
    pub(super) fn of_picture(&self) -> Option<usize> {
        self.of_text().filter(|here| matches!(self.elements[*here].kind, Kind::Figure(_)))
    }

    /// As the file holds it: `leaves` are what was drawn of each element, in its order.
    pub(super) fn tree(&self, leaves: Vec<Vec<Identifier>>) -> TagTree {
        let mut groups: Vec<Option<TagGroup>> = self
            .elements
            .iter()
            .zip(leaves)
            .map(|(element, leaves)| {
                let leaves = leaves.into_iter().map(Node::Leaf).collect();
                Some(TagGroup::with_children(element.kind.tag(), leaves))
            })
            .collect();
        let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
        // From the last on: whatever stands in an element comes after it.
        let mut roots = Vec::new();
        for at in (0..groups.len()).rev() {
            let Some(mut group) = groups[at].take() else { continue };
            // Those that stand in it came to it in reverse.
            let own = group.children.iter().filter(|node| matches!(node, Node::Leaf(_))).count();
            group.children[own..].reverse();
            if group.children.is_empty() {
                continue;
            }
            match self.elements[at].within {
                Some(within) => {
                    if let Some(parent) = &mut groups[within] {
                        parent.push(group);
                    }
                }
                None => roots.push(group),
            }
        }
        for root in roots.into_iter().rev() {
            tree.push(root);
        }
        tree
    }

    /// How many elements there are.
    pub(super) fn len(&self) -> usize {
        self.elements.len()
    }
}
