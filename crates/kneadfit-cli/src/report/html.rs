//! The page as it is written: text is escaped unless it is said to be markup.

use crate::plots::{escape, text::shortened};

/// A page in the making.
#[derive(Clone, Debug)]
pub struct Html(String);

/// Longer texts of users are cut.
const MOST_CHARACTERS: usize = 400;

impl Html {
    /// The head of a page with its style sheet.
    pub fn page(title: &str, style: &str) -> Self {
        let mut page = Self(String::with_capacity(1 << 18));
        page.raw(
            "<!DOCTYPE html>\n<html lang=\"en\" xmlns=\"http://www.w3.org/1999/xhtml\">\n<head>\n\
             <meta charset=\"utf-8\"/>\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n",
        );
        page.element("title", title).raw("\n<style>\n");
        page.raw(style);
        page.raw("</style>\n</head>\n<body>\n<main>\n");
        page
    }

    /// The page as text.
    pub fn finished(mut self) -> String {
        self.raw("</main>\n</body>\n</html>\n");
        self.0
    }

    /// Appends markup as it is.
    pub fn raw(&mut self, markup: &str) -> &mut Self {
        self.0.push_str(markup);
        self
    }

    /// Appends a text, escaped; a number and its unit stay on one line.
    pub fn text(&mut self, text: &str) -> &mut Self {
        escape(&mut self.0, &text.replace(" %", "\u{A0}%").replace(" °C", "\u{A0}°C"));
        self
    }

    /// Appends a user's text, escaped, on one line and cut where it is overlong.
    pub fn quoted(&mut self, text: &str) -> &mut Self {
        self.text(&shortened(text, MOST_CHARACTERS))
    }

    /// Appends an element with a text in it.
    pub fn element(&mut self, tag: &str, text: &str) -> &mut Self {
        self.raw("<").raw(tag).raw(">").quoted_long(text).raw("</").raw(tag).raw(">\n")
    }

    fn quoted_long(&mut self, text: &str) -> &mut Self {
        // Sentences of this tool may be longer than what a user's cell is cut to.
        self.text(&shortened(text, 20 * MOST_CHARACTERS))
    }

    /// Begins a section.
    pub fn section(&mut self, id: &str, heading: &str) -> &mut Self {
        self.raw("<section id=\"").raw(id).raw("\">\n").element("h2", heading)
    }

    /// Ends a section.
    pub fn end_section(&mut self) -> &mut Self {
        self.raw("</section>\n")
    }

    /// A cell of a table, named for narrow screens, where each row stands as a card.
    pub fn cell(&mut self, column: &str, text: &str) -> &mut Self {
        self.raw("<td data-column=\"")
            .text(column)
            .raw("\"><span>")
            .quoted(text)
            .raw("</span></td>")
    }

    /// The head of a table.
    pub fn table_head(&mut self, columns: &[&str]) -> &mut Self {
        self.raw("<table>\n<thead><tr>");
        for column in columns {
            self.raw("<th scope=\"col\">").text(column).raw("</th>");
        }
        self.raw("</tr></thead>\n<tbody>\n")
    }

    /// Ends a table.
    pub fn end_table(&mut self) -> &mut Self {
        self.raw("</tbody>\n</table>\n")
    }
}
