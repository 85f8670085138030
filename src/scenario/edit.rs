//! Changes of a scenario's text that leave comments and order as they are.

use serde::Deserialize;
use serde_json::Value as Json;
use toml_edit::{ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

/// A step on the way to a value: a key or a place in a list.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
pub enum Step {
    /// Place in a list, from 0.
    Place(usize),
    /// Key of a table.
    Key(String),
}

/// One change.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
pub enum Edit {
    /// A value put in place, or with `remove` taken away.
    Value {
        /// The way there.
        path: Vec<Step>,
        /// The new value.
        #[serde(default)]
        value: Option<Json>,
        /// Whether it is taken away.
        #[serde(default)]
        remove: bool,
    },
    /// A new part.
    Insert {
        /// Its place.
        insert_at: usize,
        /// Its table.
        table: Json,
    },
    /// A part turned, moved or taken away.
    Part {
        /// Its place.
        part: usize,
        /// Turned by these degrees, counter-clockwise.
        #[serde(default)]
        turn_deg: Option<f64>,
        /// Moved to this place among the others.
        #[serde(default)]
        move_to: Option<usize>,
        /// Taken away.
        #[serde(default)]
        remove: bool,
    },
}

impl Edit {
    pub(crate) fn remove_part(part: usize) -> Self {
        Self::Part {
            part,
            turn_deg: None,
            move_to: None,
            remove: true,
        }
    }

    pub(crate) fn move_part(part: usize, to: usize) -> Self {
        Self::Part {
            part,
            turn_deg: None,
            move_to: Some(to),
            remove: false,
        }
    }
}

/// The text with the changes made, or why that cannot be.
pub(crate) fn edited(text: &str, edits: &[Edit]) -> Result<String, String> {
    let mut document: DocumentMut = text
        .parse()
        .map_err(|error: toml_edit::TomlError| error.message().to_owned())?;
    for edit in edits {
        made(&mut document, edit).ok_or("this change cannot be made in this scenario")?;
    }
    Ok(document.to_string())
}

fn made(document: &mut DocumentMut, edit: &Edit) -> Option<()> {
    match edit {
        Edit::Value {
            path,
            value,
            remove,
        } => {
            let (last, way) = path.split_last()?;
            put(
                document.as_item_mut(),
                way,
                last,
                value.as_ref().filter(|_| !remove),
            )
        }
        Edit::Insert { insert_at, table } => {
            let mut new = Table::new();
            for (key, value) in table.as_object()? {
                new.insert(key, Item::Value(toml_value(value)?));
            }
            rearranged(document, |parts| {
                parts.insert((*insert_at).min(parts.len()), new);
                Some(())
            })
        }
        Edit::Part {
            part,
            turn_deg,
            move_to,
            remove,
        } => {
            if let Some(degrees) = turn_deg {
                let parts = document.get_mut("part")?.as_array_of_tables_mut()?;
                turn(parts.get_mut(*part)?, *degrees);
            }
            if move_to.is_none() && !remove {
                return Some(());
            }
            rearranged(document, |parts| {
                let own = (*part < parts.len()).then(|| parts.remove(*part))?;
                if let Some(to) = move_to {
                    parts.insert((*to).min(parts.len()), own);
                }
                Some(())
            })
        }
    }
}

/// Puts the parts into another order. Each table of the text remembers its position, by which it is written: the positions are exchanged with the
/// parts.
fn rearranged(
    document: &mut DocumentMut,
    how: impl FnOnce(&mut Vec<Table>) -> Option<()>,
) -> Option<()> {
    let all = document.get_mut("part")?.as_array_of_tables_mut()?;
    let mut parts: Vec<Table> = all.iter().cloned().collect();
    let mut places: Vec<Option<isize>> = parts.iter().map(Table::position).collect();
    how(&mut parts)?;
    let last = places.iter().copied().flatten().max();
    places.resize(parts.len(), last);
    let mut anew = ArrayOfTables::new();
    for (mut part, place) in parts.into_iter().zip(places) {
        part.set_position(place);
        if part.decor().prefix().is_none() {
            part.decor_mut().set_prefix("\n");
        }
        anew.push(part);
    }
    *all = anew;
    Some(())
}

/// Puts a value at the end of a way, or takes it away.
fn put(item: &mut Item, way: &[Step], last: &Step, value: Option<&Json>) -> Option<()> {
    let Some((step, rest)) = way.split_first() else {
        return put_here(item, last, value);
    };
    match step {
        Step::Key(key) => {
            let table = item.as_table_like_mut()?;
            if table.get(key).is_none() {
                // A table that is not there yet, such as [stray].
                value?;
                table.insert(key, toml_edit::table());
            }
            put(table.get_mut(key)?, rest, last, value)
        }
        Step::Place(place) => {
            if let Some(tables) = item.as_array_of_tables_mut() {
                let table = tables.get_mut(*place)?;
                let (step, rest) = match rest.split_first() {
                    None => return put_in(table, last, value),
                    Some(more) => more,
                };
                let Step::Key(key) = step else { return None };
                put(table.get_mut(key)?, rest, last, value)
            } else {
                let array = item.as_array_mut()?;
                let mut inner = Item::Value(array.get(*place)?.clone());
                put(&mut inner, rest, last, value)?;
                array.replace_formatted(*place, inner.into_value().ok()?);
                Some(())
            }
        }
    }
}

fn put_here(item: &mut Item, last: &Step, value: Option<&Json>) -> Option<()> {
    match last {
        Step::Key(_) => {
            let before_brace = (item.as_inline_table())
                .and_then(|table| table.iter().last()?.1.decor().suffix().cloned());
            put_in(item.as_table_like_mut()?, last, value)?;
            // Where the last key is taken away, the blank before the brace stays.
            if value.is_none()
                && let Some(blank) = before_brace
                && let Some((_, end)) =
                    (item.as_inline_table_mut()).and_then(|table| table.iter_mut().last())
            {
                end.decor_mut().set_suffix(blank);
            }
            Some(())
        }
        Step::Place(place) => {
            let array = item.as_array_mut()?;
            match value {
                Some(value) if *place < array.len() => {
                    array.replace(*place, toml_value(value)?);
                }
                Some(value) => array.push(toml_value(value)?),
                None => {
                    (*place < array.len()).then(|| array.remove(*place))?;
                }
            }
            Some(())
        }
    }
}

fn put_in(table: &mut dyn TableLike, last: &Step, value: Option<&Json>) -> Option<()> {
    let Step::Key(key) = last else { return None };
    let Some(value) = value else {
        // What is not there is away already.
        table.remove(key);
        return Some(());
    };
    let mut new = toml_value(value)?;
    // The blanks and the comment beside it stay.
    if let Some(old) = table.get(key).and_then(Item::as_value) {
        *new.decor_mut() = old.decor().clone();
    } else {
        table.insert(key, Item::Value(new));
        table.fmt();
        return Some(());
    }
    table.insert(key, Item::Value(new));
    Some(())
}

fn toml_value(value: &Json) -> Option<Value> {
    Some(match value {
        Json::Bool(value) => Value::from(*value),
        Json::Number(number) => match number.as_i64() {
            Some(whole) => Value::from(whole),
            None => Value::from(number.as_f64()?),
        },
        Json::String(text) => Value::from(text.as_str()),
        Json::Array(all) => {
            let all: Option<Vec<Value>> = all.iter().map(toml_value).collect();
            Value::Array(all?.into_iter().collect())
        }
        Json::Object(keys) => {
            let mut table = InlineTable::new();
            for (key, value) in keys {
                table.insert(key, toml_value(value)?);
            }
            Value::InlineTable(table)
        }
        Json::Null => return None,
    })
}

/// Turns every azimuth of a table; a tolerance is no azimuth.
fn turn(table: &mut dyn TableLike, degrees: f64) {
    for (key, item) in table.iter_mut() {
        if key == "tolerance" {
            continue;
        }
        if let Some(inner) = item.as_table_like_mut() {
            turn(inner, degrees);
        } else if let Some(array) = item.as_array_mut() {
            for value in array.iter_mut() {
                if let Some(inner) = value.as_inline_table_mut() {
                    turn(inner, degrees);
                }
            }
        } else if key == "azimuth_deg"
            && let Some(value) = item.as_value_mut()
            && let Some(old) = value
                .as_float()
                .or_else(|| value.as_integer().map(|old| old as f64))
        {
            let decor = value.decor().clone();
            let new = ((old + degrees).rem_euclid(360.0) * 1e6).round() / 1e6;
            *value = match new.fract() {
                0.0 => Value::from(new as i64),
                _ => Value::from(new),
            };
            *value.decor_mut() = decor;
        }
    }
}
