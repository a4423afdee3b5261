//! Rust source as words and the paths that stand in it, wherever in a line they stand. Comments and the insides of
//! texts are passed over. This is no compiler: it errs on the side of seeing one name too many.

use std::collections::{BTreeMap, BTreeSet};

/// A word or a mark, with its line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Token {
    pub text: String,
    pub line: usize,
}

/// Splits source into names, `::`, single marks, and `""` for each text.
pub fn tokens(source: &str) -> Vec<Token> {
    let chars: Vec<char> = source.chars().collect();
    let at = |index: usize| chars.get(index).copied().unwrap_or('\0');
    let word = |letter: char| letter.is_alphanumeric() || letter == '_';
    let mut found: Vec<Token> = Vec::new();
    let (mut index, mut line) = (0, 1);
    while index < chars.len() {
        let start = index;
        let begun = line;
        let mut text = String::new();
        match at(index) {
            '/' if at(index + 1) == '/' => {
                while index < chars.len() && at(index) != '\n' {
                    index += 1;
                }
            }
            '/' if at(index + 1) == '*' => {
                let mut depth = 0;
                loop {
                    match (at(index), at(index + 1)) {
                        ('/', '*') => (depth, index) = (depth + 1, index + 2),
                        ('*', '/') => (depth, index) = (depth - 1, index + 2),
                        _ => index += 1,
                    }
                    if depth == 0 || index >= chars.len() {
                        break;
                    }
                }
            }
            '"' => {
                index = text_end(&chars, index);
                text = "\"\"".to_owned();
            }
            '\'' if at(index + 1) == '\\' => {
                index += 3;
                while index < chars.len() && at(index) != '\'' {
                    index += 1;
                }
                index += 1;
            }
            '\'' if at(index + 2) == '\'' => index += 3,
            '\'' => {
                index += 1;
                while word(at(index)) {
                    index += 1;
                }
            }
            letter if word(letter) => {
                while word(at(index)) {
                    index += 1;
                }
                let name: String = chars[start..index].iter().collect();
                let hashes = chars[index..].iter().take_while(|&&c| c == '#').count();
                let raw = matches!(name.as_str(), "r" | "br" | "cr");
                if raw && at(index + hashes) == '"' {
                    let close: String = format!("\"{}", "#".repeat(hashes));
                    index += hashes + 1;
                    while index < chars.len()
                        && !close.chars().enumerate().all(|(n, c)| at(index + n) == c)
                    {
                        index += 1;
                    }
                    index += close.len();
                    text = "\"\"".to_owned();
                } else if matches!(name.as_str(), "b" | "c") && at(index) == '"' {
                    index = text_end(&chars, index);
                    text = "\"\"".to_owned();
                } else if name == "r" && hashes == 1 && word(at(index + 1)) {
                    // A raw name: `r#match`.
                    index += 1;
                } else {
                    text = name;
                }
            }
            ':' if at(index + 1) == ':' => {
                index += 2;
                text = "::".to_owned();
            }
            mark => {
                index += 1;
                if !mark.is_whitespace() {
                    text = mark.to_string();
                }
            }
        }
        let end = index.min(chars.len());
        line += chars[start..end].iter().filter(|&&c| c == '\n').count();
        if !text.is_empty() {
            found.push(Token { text, line: begun });
        }
    }
    found
}

/// Where the text that begins at `open` is over.
fn text_end(chars: &[char], open: usize) -> usize {
    let mut index = open + 1;
    while index < chars.len() && chars[index] != '"' {
        index += if chars[index] == '\\' { 2 } else { 1 };
    }
    index + 1
}

/// A path: `["crate", "store", "disk"]` inside the package, else as the compiler would look it up outside.
pub type Path = Vec<String>;

/// A path that a file names.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Named {
    pub path: Path,
    pub line: usize,
    /// All that is in it is taken in.
    pub glob: bool,
    /// A re-export: the name under which it is passed on.
    pub passed_on: Option<String>,
}

/// The module that a file is: `src/ui/rooms/mod.rs` is `["crate", "ui", "rooms"]`.
pub fn module_of(file: &str) -> Path {
    let inside = file.trim_start_matches("src/").trim_end_matches(".rs");
    let inside = inside.trim_end_matches("mod").trim_end_matches('/');
    let parts = inside.split('/').filter(|part| !part.is_empty());
    let mut module = vec!["crate".to_owned()];
    if !matches!(inside, "lib" | "main") {
        module.extend(parts.map(str::to_owned));
    }
    module
}

struct Reader<'a> {
    tokens: &'a [Token],
    /// The module that the file is, and the modules inside it that are open, with the braces open before them.
    module: Path,
    inner: Vec<(String, usize)>,
    modules: &'a BTreeSet<Path>,
    found: Vec<Named>,
    aliases: BTreeMap<String, BTreeSet<Path>>,
}

/// Everything that a file names, aliases followed. `modules` are the modules that exist.
pub fn names(file: &str, source: &str, modules: &BTreeSet<Path>) -> Vec<Named> {
    let tokens = tokens(source);
    let mut reader = Reader {
        tokens: &tokens,
        module: module_of(file),
        inner: Vec::new(),
        modules,
        found: Vec::new(),
        aliases: BTreeMap::new(),
    };
    reader.read();
    reader.followed()
}

impl Reader<'_> {
    fn text(&self, index: usize) -> &str {
        self.tokens
            .get(index)
            .map_or("", |token| token.text.as_str())
    }

    fn is_name(&self, index: usize) -> bool {
        self.text(index)
            .starts_with(|letter: char| letter.is_alphabetic() || letter == '_')
    }

    fn read(&mut self) {
        let (mut index, mut depth) = (0, 0usize);
        while index < self.tokens.len() {
            match self.text(index) {
                "{" => depth += 1,
                "}" => {
                    depth = depth.saturating_sub(1);
                    while self.inner.last().is_some_and(|(_, open)| *open >= depth) {
                        self.inner.pop();
                    }
                }
                "mod" if self.text(index + 2) == "{" => {
                    self.inner.push((self.text(index + 1).to_owned(), depth));
                    index += 1;
                }
                "use" => {
                    let public = index > 0 && self.text(index - 1) == "pub"
                        || index > 3
                            && self.text(index - 1) == ")"
                            && (1..6).any(|back| self.text(index.saturating_sub(back)) == "pub");
                    index = self.tree(index + 1, &[], public);
                    continue;
                }
                "type" if self.is_name(index + 1) && self.text(index + 2) == "=" => {
                    let alias = self.text(index + 1).to_owned();
                    let (path, _) = self.path(index + 3);
                    if !path.is_empty() {
                        let path = self.resolved(path);
                        self.aliases.entry(alias).or_default().insert(path);
                    }
                    index += 2;
                }
                _ if self.is_name(index) || self.text(index) == "::" => {
                    let after_dot = index > 0 && self.text(index - 1) == ".";
                    let (path, next) = self.path(index);
                    if !after_dot && path.len() > 1 {
                        self.push(path, index, false, None);
                    }
                    index = next.max(index + 1);
                    continue;
                }
                _ => {}
            }
            index += 1;
        }
    }

    /// A path of names from `index` on, and where it ends.
    fn path(&self, mut index: usize) -> (Path, usize) {
        let mut path = Vec::new();
        if self.text(index) == "::" {
            index += 1;
        }
        while self.is_name(index) {
            path.push(self.text(index).to_owned());
            index += 1;
            if self.text(index) != "::" || !self.is_name(index + 1) {
                break;
            }
            index += 1;
        }
        (path, index)
    }

    /// One branch of a `use`; gives where it ends.
    fn tree(&mut self, index: usize, before: &[String], public: bool) -> usize {
        let begun = index;
        let (path, mut index) = self.path(index);
        let mut whole = before.to_vec();
        whole.extend(path);
        if self.text(index) == "::" {
            index += 1;
        }
        match self.text(index) {
            "{" => {
                index += 1;
                while index < self.tokens.len() && self.text(index) != "}" {
                    index = self.tree(index, &whole, public);
                    if self.text(index) == "," {
                        index += 1;
                    }
                }
                index + 1
            }
            "*" => {
                self.push(whole, begun, true, public.then(|| "*".to_owned()));
                index + 1
            }
            _ => {
                if whole.len() > 1 && whole.last().is_some_and(|last| last == "self") {
                    whole.pop();
                }
                let mut alias = whole.last().cloned().unwrap_or_default();
                if self.text(index) == "as" {
                    alias = self.text(index + 1).to_owned();
                    index += 2;
                }
                let path = self.resolved(whole.clone());
                // A name taken in under its own name leads nowhere new.
                if path.len() > 1 || path[..1] != [alias.clone()] {
                    let known = self.aliases.entry(alias.clone()).or_default();
                    known.insert(path);
                }
                self.push(whole, begun, false, public.then_some(alias));
                index.max(begun + 1)
            }
        }
    }

    fn push(&mut self, path: Path, index: usize, glob: bool, passed_on: Option<String>) {
        self.found.push(Named {
            path: self.resolved(path),
            line: self.tokens[index.min(self.tokens.len() - 1)].line,
            glob,
            passed_on,
        });
    }

    /// `self`, `super`, `crate`, the package's own name and child modules made one form.
    fn resolved(&self, path: Path) -> Path {
        let mut base = self.module.clone();
        base.extend(self.inner.iter().map(|(name, _)| name.clone()));
        let mut rest = path.as_slice();
        match path.first().map(String::as_str) {
            Some("crate" | "stillroad") => base = vec!["crate".to_owned()],
            Some("self") => {}
            Some("super") => {
                while rest.first().is_some_and(|name| name == "super") {
                    base.pop();
                    rest = &rest[1..];
                }
                base.extend_from_slice(rest);
                return base;
            }
            Some(child) => {
                base.push(child.to_owned());
                if !self.modules.contains(&base) {
                    return path;
                }
            }
            None => return path,
        }
        base.extend_from_slice(&rest[1..]);
        base
    }

    /// What was found, and the same with aliases replaced by what they stand for.
    fn followed(self) -> Vec<Named> {
        let mut all: BTreeSet<Named> = BTreeSet::new();
        let mut open = self.found;
        // An alias may stand for another; three steps are more than anyone writes.
        for _ in 0..4 {
            let mut next = Vec::new();
            for named in open {
                for target in self.aliases.get(&named.path[0]).into_iter().flatten() {
                    let mut path = target.clone();
                    path.extend_from_slice(&named.path[1..]);
                    next.push(Named {
                        path,
                        ..named.clone()
                    });
                }
                all.insert(named);
            }
            next.retain(|named| !all.contains(named));
            open = next;
        }
        all.into_iter().collect()
    }
}
