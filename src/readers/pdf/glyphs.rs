//! The text pass: what pdf-extract makes of the cleaned content, gathered as placed glyphs.

use super::content::MARK;
use super::fonts::UNEXPLAINED;
use crate::readers::marks;
use pdf_extract::{ColorSpace, MediaBox, OutputDev, OutputError, Path, PathOp, Transform};

/// A glyph in units of the page, y up.
#[derive(Clone, Copy, Debug)]
pub struct Glyph {
    /// Start on the baseline.
    pub at: (f32, f32),
    /// To the start of the next glyph, without added spacing.
    pub advance: (f32, f32),
    /// Height of the type, upwards from the baseline.
    pub up: (f32, f32),
    /// Spacing that the text asks for after each glyph, over its own size.
    pub spacing: f32,
    /// The character; a blank for all blanks, U+FFFD where the file does not say.
    pub character: char,
    /// Number of the state, see [`super::content::TextState`].
    pub state: usize,
}

/// Glyphs of all pages.
#[derive(Default)]
pub struct Gathered {
    /// One list for each page.
    pub pages: Vec<Page>,
    state: usize,
}

/// Glyphs of one page.
#[derive(Default)]
pub struct Page {
    /// In the order of the content.
    pub glyphs: Vec<Glyph>,
    /// Glyphs whose character the file does not say.
    pub unexplained: usize,
}

impl OutputDev for Gathered {
    fn begin_page(&mut self, _: u32, _: &MediaBox, _: Option<(f64, f64, f64, f64)>) -> Result<(), OutputError> {
        self.pages.push(Page::default());
        self.state = 0;
        Ok(())
    }

    fn end_page(&mut self) -> Result<(), OutputError> {
        Ok(())
    }

    fn output_character(
        &mut self,
        trm: &Transform,
        width: f64,
        spacing: f64,
        font_size: f64,
        text: &str,
    ) -> Result<(), OutputError> {
        let Some(page) = self.pages.last_mut() else { return Ok(()) };
        let scaled = |x: f64, y: f64, by: f64| ((x * by) as f32, (y * by) as f32);
        let glyph = Glyph {
            at: (trm.m31 as f32, trm.m32 as f32),
            advance: scaled(trm.m11, trm.m12, width * font_size),
            up: scaled(trm.m21, trm.m22, font_size),
            spacing: if font_size == 0.0 { 0.0 } else { (spacing / font_size) as f32 },
            character: ' ',
            state: self.state,
        };
        let numbers = [glyph.at.0, glyph.at.1, glyph.advance.0, glyph.advance.1, glyph.up.0, glyph.up.1, glyph.spacing];
        if numbers.iter().any(|n| !n.is_finite() || n.abs() > 1.0e6) {
            return Ok(());
        }
        if text.is_empty() || text.contains([UNEXPLAINED, '\u{fffd}']) {
            page.unexplained += 1;
            page.glyphs.push(Glyph { character: '\u{fffd}', ..glyph });
            return Ok(());
        }
        let mut shown = String::new();
        for c in text.chars() {
            marks::push_shown(&mut shown, c);
        }
        // A ligature is as wide as its letters together.
        let count = shown.chars().count().max(1) as f32;
        let advance = (glyph.advance.0 / count, glyph.advance.1 / count);
        for (index, character) in shown.chars().enumerate() {
            let before = index as f32;
            let at = (glyph.at.0 + before * advance.0, glyph.at.1 + before * advance.1);
            page.glyphs.push(Glyph { at, advance, character, ..glyph });
        }
        Ok(())
    }

    fn begin_word(&mut self) -> Result<(), OutputError> {
        Ok(())
    }

    fn end_word(&mut self) -> Result<(), OutputError> {
        Ok(())
    }

    fn end_line(&mut self) -> Result<(), OutputError> {
        Ok(())
    }

    fn stroke(&mut self, _: &Transform, _: &ColorSpace, _: &[f64], path: &Path) -> Result<(), OutputError> {
        if let [PathOp::MoveTo(x, number)] = path.ops.as_slice()
            && *x == MARK
        {
            self.state = *number as usize;
        }
        Ok(())
    }
}
