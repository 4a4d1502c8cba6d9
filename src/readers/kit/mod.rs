//! What several readers share: looking at bytes, decoding text, opening archives, number formats, sheets to pages.

pub mod archive;
pub mod biff;
pub mod clean;
pub mod content;
pub mod decimal;
pub mod encoding;
pub mod grid;
pub mod number_format;
pub mod odf;
pub mod ooxml;
#[cfg(test)]
pub mod testing;
pub mod workbook;
pub mod xml;
