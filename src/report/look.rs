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
