//! Text that stays text: escaping, and the few shapes of HTML that the page is made of.
//!
//! Must not know what the page says.

use crate::report::printable::{isolated, parts, printable};

/// Text from a file or a sentence, so that it can be nothing but text, for the body of the page. Names that
/// run from right to left don't turn the words round them.
pub(super) fn text(text: &str) -> String {
    let text = printable(text);
    let shown = |(part, right_to_left): (&str, bool)| {
        if right_to_left { format!("<bdi>{}</bdi>", escaped(part)) } else { escaped(part) }
    };
    parts(&text).into_iter().map(shown).collect()
}

/// The same for an attribute, a title or a drawing, where there can be no markup.
pub(in crate::report) fn plain(text: &str) -> String {
    escaped(&isolated(text))
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// A name from a file: written in its own direction, without turning the words around it.
pub(super) fn name(name: &str) -> String {
    format!("<bdi>{}</bdi>", escaped(&printable(name)))
}

/// A paragraph of text.
pub(super) fn paragraph(sentence: &str) -> String {
    format!("<p>{}</p>\n", text(sentence))
}

/// What the last column of a table holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Last {
    /// Figures, like the others.
    Figures,
    /// Words.
    Words,
}

/// A table: caption and head as text; rows of cells that are HTML already, the first of which heads its row.
pub(super) fn table(caption: &str, last: Last, head: &[&str], rows: &[Vec<String>]) -> String {
    let mut out =
        format!("<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"{}\">\n", plain(caption));
    let class = if last == Last::Words { " class=\"words-last\"" } else { "" };
    out.push_str(&format!("<table{class}><caption>{}</caption>\n<thead><tr>", text(caption)));
    for cell in head {
        out.push_str(&format!("<th scope=\"col\">{}</th>", text(cell)));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in rows {
        out.push_str("<tr>");
        for (i, cell) in row.iter().enumerate() {
            let cell =
                if i == 0 { format!("<th scope=\"row\">{cell}</th>") } else { format!("<td>{cell}</td>") };
            out.push_str(&cell);
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody></table></div>\n");
    out
}

/// A section with its heading, as text.
pub(super) fn section(id: &str, heading: &str, body: &str) -> String {
    format!(
        "<section id=\"{id}\" aria-labelledby=\"{id}-heading\">\n<h2 id=\"{id}-heading\">{}</h2>\n{body}</section>\n",
        text(heading)
    )
}

/// A drawing with a line under it, as text.
pub(super) fn figure(svg: &str, caption: &str) -> String {
    format!("<figure>{svg}<figcaption>{}</figcaption></figure>\n", text(caption))
}

/// Drawings that belong together, beside or below each other as there is room, with a line under them, as text.
pub(super) fn figures(svgs: &[String], caption: &str) -> String {
    whole_figure(&format!("<div class=\"figures\">\n{}</div>", svgs.concat()), caption)
}

/// What takes the page's whole width and may end a sheet between its drawings, with a line under it, as text.
pub(super) fn whole_figure(drawings: &str, caption: &str) -> String {
    format!("<figure class=\"whole\">{drawings}<figcaption>{}</figcaption></figure>\n", text(caption))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_from_a_file_can_be_nothing_but_text() {
        let hostile = "<script>alert('x')</script> & \"y\" \u{202e}evil\u{0}";
        let shown = text(hostile);
        assert_eq!(shown, "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &amp; &quot;y&quot; �evil�");
        assert_eq!(plain(hostile), shown);
        assert_eq!(text("<\u{5d7}>"), "&lt;<bdi>\u{5d7}</bdi>&gt;");
    }
}
