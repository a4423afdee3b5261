//! Where a value stands in a text, so that it alone can be written anew and all round it stays as a hand wrote it.

use std::ops::Range;

use toml::de::DeTable;

/// Where a key and its value stand, in bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ValuePlace {
    /// Where the key begins.
    pub key: usize,
    /// From the first byte of the value to behind its last.
    pub value: Range<usize>,
}

/// The place of a key's value: `path` leads to its table, by the places in the lists of tables called `list`, the
/// outermost first; an empty one means the root. None where the text is no TOML or has no such key.
pub fn value_place(text: &str, list: &str, path: &[usize], key: &str) -> Option<ValuePlace> {
    let root = DeTable::parse(text).ok()?;
    let mut table = root.get_ref();
    for index in path {
        let tables = table.get(list)?.get_ref().as_array()?;
        table = tables.get(*index)?.get_ref().as_table()?;
    }
    let (key, value) = table.get_key_value(key)?;
    Some(ValuePlace {
        key: key.span().start,
        value: value.span(),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_value_is_found_wherever_it_stands_and_nothing_else_is() {
        let text = "a = 1 # one\n[[block]]\na = 2\n[[block]]\nn = 3\n[[block.block]]\n  a = [4, 5] # four\n";
        let found = |path: &[usize]| {
            let place = value_place(text, "block", path, "a")?;
            assert!(text[place.key..].starts_with("a = "));
            Some(&text[place.value])
        };
        assert_eq!(found(&[]), Some("1"));
        assert_eq!(found(&[0]), Some("2"));
        assert_eq!(found(&[1, 0]), Some("[4, 5]"));
        for path in [&[1_usize][..], &[2], &[0, 0], &[1, 1], &[1, 0, 0]] {
            assert_eq!(found(path), None, "{path:?}");
        }
        assert_eq!(value_place("a = [", "block", &[], "a"), None);
        // Tables on one line have places as well.
        let text = "block = [{ a = 7 }, { a = \"x\" }]\n";
        let place = value_place(text, "block", &[1], "a").unwrap();
        assert_eq!(&text[place.value], "\"x\"");
    }
}
