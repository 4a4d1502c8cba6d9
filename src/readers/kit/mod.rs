//! What several readers share: looking at bytes, decoding text, opening archives, number formats, sheets to pages.

pub mod archive;
pub mod clean;
pub mod content;
pub mod encoding;
pub mod xml;
