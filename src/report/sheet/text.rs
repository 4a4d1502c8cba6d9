//! A sheet as terminal text.

use super::{Block, Sheet};
use crate::report::look::{Look, NARROWEST, borderless};
use crate::report::plain::{safe, wrapped};
use comfy_table::{Cell, CellAlignment};

/// The sheet, no line longer than the look allows but for words that are.
pub fn text(sheet: &Sheet, look: &Look) -> String {
    let width = usize::from(look.width.max(NARROWEST));
    let mut lines = Vec::new();
    let bold = |text: &str| if look.color { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text.to_owned() };
    for line in wrapped(&safe(&sheet.title), width, "", "") {
        lines.push(bold(&line));
    }
    for under in &sheet.under {
        lines.extend(wrapped(&safe(under), width, "", "  "));
    }
    for section in &sheet.sections {
        lines.push(String::new());
        lines.push(bold(&safe(&if section.warns { section.title.to_uppercase() } else { section.title.clone() })));
        for block in &section.blocks {
            print(block, &mut lines, width, look);
        }
    }
    let mut out = lines.join("\n");
    out.push('\n');
    out
}

fn print(block: &Block, lines: &mut Vec<String>, width: usize, look: &Look) {
    let mut say = |text: &str, first: &str, rest: &str| lines.extend(wrapped(&safe(text), width, first, rest));
    match block {
        Block::Text(text) => say(text, "  ", "  "),
        Block::Items(items) => items.iter().for_each(|item| say(item, "  - ", "    ")),
        Block::Checks(items) => items.iter().for_each(|item| say(item, "  [ ] ", "      ")),
        Block::Steps(steps) => {
            for (at, step) in steps.iter().enumerate() {
                say(step, &format!("  {:>2}. ", at + 1), "      ");
            }
        }
        Block::Pairs(pairs) => {
            let longest = pairs.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0).min(width / 2);
            for (name, value) in pairs {
                let pad = " ".repeat(longest.saturating_sub(name.chars().count()));
                say(value, &format!("  {}{pad}  ", safe(name)), &" ".repeat(longest + 4));
            }
        }
        Block::Form(pairs) => {
            for (name, value) in pairs {
                let room = width.saturating_sub(name.chars().count() + 5).max(8);
                let line = if value.is_empty() { "_".repeat(room) } else { safe(value) };
                say(&line, &format!("  {}: ", safe(name)), "      ");
            }
        }
        Block::Table { head, rows } => lines.extend(table(head, rows, look)),
    }
}

fn table(head: &[String], rows: &[Vec<String>], look: &Look) -> Vec<String> {
    let mut table = borderless(look);
    let cells = |row: &[String]| {
        row.iter()
            .enumerate()
            .map(|(at, text)| Cell::new(if at == 0 { format!("  {}", safe(text)) } else { safe(text) }))
            .collect::<Vec<_>>()
    };
    table.set_header(cells(head));
    for row in rows {
        table.add_row(cells(row));
    }
    for column in table.column_iter_mut().skip(1) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    table.lines().map(|line| line.trim_end().to_owned()).collect()
}
