//! How a page of terminal text is to look.

/// How the page is to look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Characters to a line.
    pub width: u16,
    /// Colours and bold; off when piped or when `NO_COLOR` is set.
    pub color: bool,
}

impl Default for Look {
    fn default() -> Self {
        Self { width: 80, color: false }
    }
}

/// Narrower than this a table cannot be read.
#[cfg(feature = "cli")]
pub(super) const NARROWEST: u16 = 40;

/// A table without lines, as wide as the look allows.
#[cfg(feature = "cli")]
pub(super) fn borderless(look: &Look) -> comfy_table::Table {
    let mut table = comfy_table::Table::new();
    table
        .load_style(comfy_table::presets::NOTHING)
        .set_content_arrangement(comfy_table::ContentArrangement::Dynamic)
        .set_width(look.width.max(NARROWEST));
    if look.color {
        table.enforce_styling();
    } else {
        table.force_no_tty();
    }
    table
}
