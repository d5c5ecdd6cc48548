//! Just enough of Rust's grammar: words and marks with their lines, without comments, text and
//! characters; and the paths they form, groups in braces written out.

/// A word, `::`, or a single mark.
#[derive(Debug, Clone, PartialEq)]
pub struct Token {
    pub text: String,
    pub line: usize,
}

/// A path such as `crate::units::Note`, absolute where it began with `crate`, `self` or `super`.
#[derive(Debug, Clone, PartialEq)]
pub struct PathUse {
    pub segments: Vec<String>,
    pub line: usize,
}

pub fn tokens(source: &str) -> Vec<Token> {
    let chars: Vec<char> = source.chars().collect();
    let at = |i: usize| chars.get(i).copied().unwrap_or('\0');
    let (mut i, mut line) = (0, 1);
    let mut found = Vec::new();
    while i < chars.len() {
        let start = i;
        let c = at(i);
        if c == '/' && at(i + 1) == '/' {
            i = skip_until(i, |i| i >= chars.len() || at(i) == '\n');
        } else if c == '/' && at(i + 1) == '*' {
            i = skip_until(i + 2, |i| i >= chars.len() || (at(i - 1) == '*' && at(i) == '/')) + 1;
        } else if c == '"' {
            i += 1;
            while i < chars.len() && at(i) != '"' {
                i += if at(i) == '\\' { 2 } else { 1 };
            }
            i += 1;
        } else if c == 'r' && (at(i + 1) == '"' || (at(i + 1) == '#' && "#\"".contains(at(i + 2)))) {
            let hashes = (i + 1..).take_while(|&j| at(j) == '#').count();
            let closes = |i: usize| at(i) == '"' && (1..=hashes).all(|h| at(i + h) == '#');
            i = skip_until(i + hashes + 2, |i| i >= chars.len() || closes(i)) + hashes + 1;
        } else if c == '\'' && at(i + 1) == '\\' {
            i = skip_until(i + 3, |i| i >= chars.len() || at(i) == '\'') + 1;
        } else if c == '\'' && at(i + 2) == '\'' {
            i += 3;
        } else if c.is_alphanumeric() || c == '_' {
            i = skip_until(i, |i| !(at(i).is_alphanumeric() || at(i) == '_'));
            found.push(Token { text: chars[start..i].iter().collect(), line });
        } else if c == ':' && at(i + 1) == ':' {
            i += 2;
            found.push(Token { text: "::".into(), line });
        } else {
            i += 1;
            if !c.is_whitespace() {
                found.push(Token { text: c.into(), line });
            }
        }
        i = i.min(chars.len());
        line += chars[start..i].iter().filter(|&&c| c == '\n').count();
    }
    found
}

fn skip_until(from: usize, stop: impl Fn(usize) -> bool) -> usize {
    (from..).find(|&i| stop(i)).unwrap_or(from)
}

/// All paths of a file whose own module is `home` (for `src/audio/take.rs`: `audio`, `take`).
pub fn paths(tokens: &[Token], home: &[&str]) -> Vec<PathUse> {
    let text = |i: usize| tokens.get(i).map_or("", |token| token.text.as_str());
    let mut module: Vec<String> = home.iter().map(|part| (*part).to_string()).collect();
    let mut opened = Vec::new();
    let mut found = Vec::new();
    for i in 0..tokens.len() {
        let before = if i == 0 { "" } else { text(i - 1) };
        match text(i) {
            "{" => {
                let inline_module = i >= 2 && text(i - 2) == "mod";
                if inline_module {
                    module.push(before.to_string());
                }
                opened.push(inline_module);
            }
            "}" if opened.pop() == Some(true) => {
                module.pop();
            }
            _ => {}
        }
        let begins = is_word(text(i)) && before != "::" && (text(i + 1) == "::" || before == "use");
        if begins {
            let mut written_out = Vec::new();
            write_out(tokens, i, &[], &mut written_out);
            found.extend(written_out.into_iter().filter_map(|path| absolute(path, &module)));
        }
    }
    found
}

/// Writes out the path or the group that begins at token `i`; returns the token after it.
fn write_out(tokens: &[Token], mut i: usize, before: &[String], found: &mut Vec<PathUse>) -> usize {
    let text = |i: usize| tokens.get(i).map_or("", |token| token.text.as_str());
    let mut segments = before.to_vec();
    let line = tokens.get(i).map_or(0, |token| token.line);
    loop {
        if text(i) == "{" {
            i += 1;
            while i < tokens.len() && text(i) != "}" {
                i = if text(i) == "," { i + 1 } else { write_out(tokens, i, &segments, found) };
            }
            return i + 1;
        }
        segments.push(text(i).to_string());
        i += 1;
        if text(i) != "::" || text(i + 1) == "<" {
            break;
        }
        i += 1;
    }
    found.push(PathUse { segments, line });
    // `as name` inside a group.
    if text(i) == "as" { i + 2 } else { i }
}

/// `None` for a path that starts at something of the file's own.
fn absolute(path: PathUse, module: &[String]) -> Option<PathUse> {
    let mut base = module.to_vec();
    let mut rest = path.segments.as_slice();
    match rest.first()?.as_str() {
        "crate" | "borescribe" => return Some(PathUse { segments: with_crate(&rest[1..]), ..path }),
        "self" => rest = &rest[1..],
        "super" => {}
        _ => return Some(path),
    }
    while rest.first().is_some_and(|segment| segment == "super") {
        base.pop();
        rest = &rest[1..];
    }
    base.extend_from_slice(rest);
    Some(PathUse { segments: with_crate(&base), line: path.line })
}

fn with_crate(rest: &[String]) -> Vec<String> {
    std::iter::once("crate".to_string()).chain(rest.iter().cloned()).collect()
}

fn is_word(text: &str) -> bool {
    text.starts_with(|c: char| c.is_alphabetic() || c == '_')
}
