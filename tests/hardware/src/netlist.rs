//! What the schematic joins: the netlist that KiCad wrote of it.

use std::collections::{BTreeMap, BTreeSet};

/// One end of a net.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Pin {
    /// The part's reference.
    pub part: String,
    /// The pin's number.
    pub number: String,
}

/// A part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// What it is, with its tolerance where it has one.
    pub value: String,
    /// Its symbol.
    pub kind: String,
}

/// The whole of it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Netlist {
    /// By reference.
    pub parts: BTreeMap<String, Part>,
    /// By name.
    pub nets: BTreeMap<String, BTreeSet<Pin>>,
}

impl Netlist {
    /// Reads KiCad's XML.
    ///
    /// # Errors
    /// It is none.
    pub fn parse(xml: &str) -> Result<Self, String> {
        let document = roxmltree::Document::parse(xml).map_err(|error| error.to_string())?;
        let mut netlist = Self::default();
        for node in document.descendants() {
            let said = |name: &str| {
                let value = node.attribute(name).map(str::to_owned);
                value.ok_or_else(|| format!("<{}> without {name}", node.tag_name().name()))
            };
            match node.tag_name().name() {
                "comp" => {
                    let child = |name| node.children().find(|child| child.has_tag_name(name));
                    let value = child("value").and_then(|value| value.text()).unwrap_or_default();
                    let kind = child("libsource").and_then(|source| source.attribute("part"));
                    let part =
                        Part { value: value.to_owned(), kind: kind.unwrap_or_default().to_owned() };
                    netlist.parts.insert(said("ref")?, part);
                }
                "net" => {
                    let mut pins = BTreeSet::new();
                    for end in node.children().filter(|child| child.has_tag_name("node")) {
                        let said = |name| end.attribute(name).unwrap_or_default().to_owned();
                        pins.insert(Pin { part: said("ref"), number: said("pin") });
                    }
                    netlist.nets.insert(said("name")?, pins);
                }
                _ => (),
            }
        }
        if netlist.parts.is_empty() || netlist.nets.is_empty() {
            return Err("no parts, or no nets".to_owned());
        }
        Ok(netlist)
    }

    /// The net that a pin is on.
    pub fn net_of(&self, part: &str, number: &str) -> Option<&str> {
        let pin = Pin { part: part.to_owned(), number: number.to_owned() };
        self.nets.iter().find(|(_, pins)| pins.contains(&pin)).map(|(name, _)| name.as_str())
    }

    /// The part of this kind of which there is one.
    ///
    /// # Errors
    /// There is none, or more than one.
    pub fn only(&self, kind: &str) -> Result<&str, String> {
        let mut found = self.parts.iter().filter(|(_, part)| part.kind == kind);
        match (found.next(), found.next()) {
            (Some((reference, _)), None) => Ok(reference),
            (None, _) => Err(format!("the schematic has no {kind}")),
            _ => Err(format!("the schematic has more than one {kind}")),
        }
    }
}
