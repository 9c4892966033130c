//! Nested tables of numbers and text, each with the line it stands on: what a car file is before it means anything.
//!
//! A tree comes from TOML text, with line numbers, or from tables built in memory, without. [`Table`] hands out its
//! entries by key and, at the end, objects to those that nobody asked for.

use toml::de::{DeTable, DeValue};

use super::{FileError, FileFault};

/// A value and the line it stands on, counted from one, where there is one.
#[derive(Clone, Debug)]
pub(super) struct Item {
    line: Option<usize>,
    node: Node,
}

#[derive(Clone, Debug)]
enum Node {
    Table(Vec<(String, Item)>),
    List(Vec<Item>),
    Number(f64),
    Text(String),
    Other(&'static str),
}

impl Node {
    fn kind(&self) -> &'static str {
        match self {
            Self::Table(_) => "a table",
            Self::List(_) => "a list",
            Self::Number(_) => "a number",
            Self::Text(_) => "text",
            Self::Other(kind) => kind,
        }
    }
}

impl Item {
    /// The tree of a TOML text.
    pub(super) fn from_text(text: &str) -> Result<Self, FileError> {
        let line_of = |offset: usize| text.get(..offset).unwrap_or(text).matches('\n').count() + 1;
        let document = DeTable::parse(text).map_err(|error| FileError {
            path: None,
            line: error.span().map(|span| line_of(span.start)),
            fault: FileFault::Syntax(error.message().to_owned()),
        })?;
        Ok(Self {
            line: None,
            node: node_of_table(document.get_ref(), &line_of),
        })
    }

    /// The tree of a table built in memory.
    pub(super) fn from_table(table: &toml::Table) -> Self {
        let entries = table.iter().map(|(key, value)| (key.clone(), Self::from_value(value)));
        Self {
            line: None,
            node: Node::Table(entries.collect()),
        }
    }

    /// The numbers of a list of nothing else.
    fn numbers(&self) -> Option<Vec<f64>> {
        let Node::List(items) = &self.node else { return None };
        let number = |item: &Self| match item.node {
            Node::Number(value) => Some(value),
            _ => None,
        };
        items.iter().map(number).collect()
    }

    fn from_value(value: &toml::Value) -> Self {
        let node = match value {
            // A car's numbers are far below 2^53, and larger ones are refused later.
            #[allow(clippy::cast_precision_loss)]
            toml::Value::Integer(value) => Node::Number(*value as f64),
            toml::Value::Float(value) => Node::Number(*value),
            toml::Value::String(text) => Node::Text(text.clone()),
            toml::Value::Array(items) => Node::List(items.iter().map(Self::from_value).collect()),
            toml::Value::Table(table) => return Self::from_table(table),
            toml::Value::Boolean(_) => Node::Other("true or false"),
            toml::Value::Datetime(_) => Node::Other("a date"),
        };
        Self { line: None, node }
    }
}

fn node_of_table(table: &DeTable<'_>, line_of: &dyn Fn(usize) -> usize) -> Node {
    let mut entries: Vec<(usize, String, Item)> = table
        .iter()
        .map(|(key, value)| {
            let start = key.span().start;
            let item = Item {
                line: Some(line_of(start)),
                node: node_of_value(value.get_ref(), line_of),
            };
            (start, key.get_ref().to_string(), item)
        })
        .collect();
    // In the order of the text, so that of two mistakes the first is told.
    entries.sort_by_key(|(start, ..)| *start);
    Node::Table(entries.into_iter().map(|(_, key, item)| (key, item)).collect())
}

fn node_of_value(value: &DeValue<'_>, line_of: &dyn Fn(usize) -> usize) -> Node {
    match value {
        DeValue::Integer(value) => {
            i64::from_str_radix(value.as_str(), value.radix()).map_or(Node::Other("an unreadable number"), |value| {
                #[allow(clippy::cast_precision_loss)]
                let value = value as f64;
                Node::Number(value)
            })
        }
        DeValue::Float(value) => value
            .as_str()
            .parse()
            .map_or(Node::Other("an unreadable number"), Node::Number),
        DeValue::String(text) => Node::Text(text.to_string()),
        DeValue::Array(items) => Node::List(
            items
                .iter()
                .map(|item| Item {
                    line: Some(line_of(item.span().start)),
                    node: node_of_value(item.get_ref(), line_of),
                })
                .collect(),
        ),
        DeValue::Table(table) => node_of_table(table, line_of),
        DeValue::Boolean(_) => Node::Other("true or false"),
        DeValue::Datetime(_) => Node::Other("a date"),
    }
}

/// A value and its line, where the key is there at all.
type Found<T> = Result<Option<(T, Option<usize>)>, FileError>;

/// A table being read: entries are asked for by key, and what nobody asked for is a mistake.
pub(super) struct Table<'a> {
    name: String,
    line: Option<usize>,
    entries: &'a [(String, Item)],
    asked: Vec<&'static str>,
}

impl<'a> Table<'a> {
    /// The whole of a tree.
    pub(super) fn root(tree: &'a Item) -> Self {
        let entries: &[(String, Item)] = match &tree.node {
            Node::Table(entries) => entries,
            _ => &[],
        };
        Self {
            name: String::new(),
            line: None,
            entries,
            asked: Vec::new(),
        }
    }

    /// The whole of a tree, as the table of this name.
    pub(super) fn whole(tree: &'a Item, name: &str) -> Self {
        Self {
            name: name.to_owned(),
            ..Self::root(tree)
        }
    }

    /// The name, as messages spell it.
    pub(super) fn name(&self) -> &str {
        &self.name
    }

    fn find(&mut self, key: &'static str) -> Option<&'a Item> {
        self.asked.push(key);
        self.entries.iter().find(|(name, _)| name == key).map(|(_, item)| item)
    }

    /// The field of a key, as messages spell it.
    fn field(&self, key: &str) -> String {
        if self.name.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.name)
        }
    }

    fn wrong_kind(&self, key: &str, item: &Item, wanted: &'static str) -> FileError {
        FileError {
            path: None,
            line: item.line.or(self.line),
            fault: FileFault::WrongKind {
                field: self.field(key),
                found: item.node.kind(),
                wanted,
            },
        }
    }

    /// A table of this key.
    pub(super) fn table(&mut self, key: &'static str) -> Result<Option<Table<'a>>, FileError> {
        let Some(item) = self.find(key) else { return Ok(None) };
        let Node::Table(entries) = &item.node else {
            return Err(self.wrong_kind(key, item, "a table of named values"));
        };
        Ok(Some(Table {
            name: self.field(key),
            line: item.line,
            entries,
            asked: Vec::new(),
        }))
    }

    /// A number of this key, and its line.
    pub(super) fn number(&mut self, key: &'static str) -> Found<f64> {
        let Some(item) = self.find(key) else { return Ok(None) };
        match item.node {
            Node::Number(value) => Ok(Some((value, item.line))),
            _ => Err(self.wrong_kind(key, item, "a number")),
        }
    }

    /// Text of this key.
    pub(super) fn text(&mut self, key: &'static str) -> Result<Option<String>, FileError> {
        let Some(item) = self.find(key) else { return Ok(None) };
        match &item.node {
            Node::Text(text) => Ok(Some(text.clone())),
            _ => Err(self.wrong_kind(key, item, "text in quotes")),
        }
    }

    /// One of a few words of this key; `wanted` names them all.
    pub(super) fn choice<T>(
        &mut self,
        key: &'static str,
        wanted: &'static str,
        choose: impl Fn(&str) -> Option<T>,
    ) -> Result<Option<T>, FileError> {
        let Some(item) = self.find(key) else { return Ok(None) };
        let Node::Text(text) = &item.node else {
            return Err(self.wrong_kind(key, item, wanted));
        };
        match choose(text) {
            Some(choice) => Ok(Some(choice)),
            None => Err(FileError {
                path: None,
                line: item.line.or(self.line),
                fault: FileFault::WrongKind {
                    field: self.field(key),
                    found: "another word",
                    wanted,
                },
            }),
        }
    }

    /// Three numbers of this key, and their line.
    pub(super) fn triple(&mut self, key: &'static str) -> Found<[f64; 3]> {
        const WANTED: &str = "three numbers [x, y, z]";
        let Some(item) = self.find(key) else { return Ok(None) };
        let Node::List(items) = &item.node else {
            return Err(self.wrong_kind(key, item, WANTED));
        };
        let numbers: Option<Vec<f64>> = items
            .iter()
            .map(|item| match item.node {
                Node::Number(value) => Some(value),
                _ => None,
            })
            .collect();
        match numbers.as_deref() {
            Some(&[x, y, z]) => Ok(Some(([x, y, z], item.line))),
            Some(other) => Err(FileError {
                path: None,
                line: item.line.or(self.line),
                fault: FileFault::WrongCount {
                    field: self.field(key),
                    found: other.len(),
                },
            }),
            None => Err(FileError {
                path: None,
                line: item.line.or(self.line),
                fault: FileFault::WrongKind {
                    field: self.field(key),
                    found: "a list that holds something else than numbers",
                    wanted: WANTED,
                },
            }),
        }
    }

    /// Any number of numbers of this key, and their line.
    pub(super) fn numbers(&mut self, key: &'static str) -> Found<Vec<f64>> {
        const WANTED: &str = "a list of numbers";
        let Some(item) = self.find(key) else { return Ok(None) };
        match item.numbers() {
            Some(numbers) => Ok(Some((numbers, item.line))),
            None => Err(self.wrong_kind(key, item, WANTED)),
        }
    }

    /// Two numbers of this key, and their line.
    pub(super) fn pair(&mut self, key: &'static str) -> Found<[f64; 2]> {
        let Some(item) = self.find(key) else { return Ok(None) };
        match item.numbers().as_deref() {
            Some(&[a, b]) => Ok(Some(([a, b], item.line))),
            _ => Err(self.wrong_kind(key, item, "two numbers [a, b]")),
        }
    }

    /// Any number of pairs of numbers of this key, and their line.
    pub(super) fn pairs(&mut self, key: &'static str) -> Found<Vec<[f64; 2]>> {
        const WANTED: &str = "a list of pairs of numbers [[a, b], [c, d], ...]";
        let Some(item) = self.find(key) else { return Ok(None) };
        let Node::List(items) = &item.node else {
            return Err(self.wrong_kind(key, item, WANTED));
        };
        let pairs: Option<Vec<[f64; 2]>> = items
            .iter()
            .map(|item| item.numbers().and_then(|numbers| <[f64; 2]>::try_from(numbers).ok()))
            .collect();
        match pairs {
            Some(pairs) => Ok(Some((pairs, item.line))),
            None => Err(self.wrong_kind(key, item, WANTED)),
        }
    }

    /// Object to a key that belongs into another table.
    pub(super) fn elsewhere(&self, key: &str, instead: &'static str) -> Result<(), FileError> {
        match self.entries.iter().find(|(name, _)| name == key) {
            None => Ok(()),
            Some((_, item)) => Err(FileError {
                path: None,
                line: item.line.or(self.line),
                fault: FileFault::Elsewhere {
                    field: self.field(key),
                    instead,
                },
            }),
        }
    }

    /// Object to the first key that nobody asked for.
    pub(super) fn finish(self) -> Result<(), FileError> {
        let unknown = self.entries.iter().find(|(key, _)| !self.asked.contains(&key.as_str()));
        let Some((key, item)) = unknown else { return Ok(()) };
        Err(FileError {
            path: None,
            line: item.line.or(self.line),
            fault: FileFault::UnknownKey {
                table: self.name,
                key: key.clone(),
                nearest: nearest(key, &self.asked),
                known: self.asked,
            },
        })
    }
}

/// The known word that a mistyped one is nearest to, if any is near.
pub(crate) fn nearest<'a>(key: &str, known: &[&'a str]) -> Option<&'a str> {
    // A third of the letters wrong is still a slip; more is another word.
    let most = |candidate: &str| (candidate.len().max(key.len()) / 3).max(2);
    let prefix = |candidate: &str| candidate.starts_with(key) || key.starts_with(candidate);
    known
        .iter()
        .map(|candidate| (strsim::damerau_levenshtein(&key.to_lowercase(), candidate), *candidate))
        .filter(|(distance, candidate)| *distance <= most(candidate) || (key.len() >= 3 && prefix(candidate)))
        .min()
        .map(|(_, candidate)| candidate)
}
