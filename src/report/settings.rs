//! Settings as a page: each with its value and where it came from.

use super::look::{Look, borderless};
use super::plain::{safe, wrapped};
use comfy_table::{Cell, ColumnConstraint, Width};

/// One setting.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row<'a> {
    /// Its name, with its table before a point.
    pub setting: &'a str,
    /// What holds; a line for each of several.
    pub value: String,
    /// Who says so.
    pub from: &'a str,
}

/// The page. `file` is where the configuration file is looked for, `found` whether it is there.
///
/// ```
/// use beadwise::report::{look::Look, settings::{Row, page}};
/// let row = Row { setting: "units", value: "si".into(), from: "config.toml:1" };
/// let text = page(Some("config.toml"), true, &[row], &Look::default());
/// assert!(text.contains("units") && text.contains("config.toml:1"));
/// ```
pub fn page(file: Option<&str>, found: bool, rows: &[Row<'_>], look: &Look) -> String {
    let head = match (file, found) {
        (Some(file), true) => format!("Settings. The file is {file}"),
        (Some(file), false) => format!("Settings. There is no file at {file}"),
        (None, _) => "Settings. This system names no folder for a file".to_owned(),
    };
    let mut text = wrapped(&safe(&head), usize::from(look.width), "", "  ").join("\n");
    text.push_str("\n\n");
    let mut table = borderless(look);
    table.set_header(["Setting", "Value", "From"]);
    for row in rows {
        let value = match row.value.as_str() {
            "" => "not set".to_owned(),
            value => value.lines().map(safe).collect::<Vec<_>>().join("\n"),
        };
        let from = if row.value.is_empty() { String::new() } else { safe(row.from) };
        table.add_row([Cell::new(row.setting), Cell::new(value), Cell::new(from)]);
    }
    if let Some(column) = table.column_mut(0) {
        column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(24)));
    }
    for line in table.to_string().lines() {
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}
