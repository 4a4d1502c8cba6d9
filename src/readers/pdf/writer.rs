//! Writes the minimal document that the text pass reads: numbered objects, a table of where they are.

use std::io::Write as _;

/// A document that is being written.
pub struct Writer {
    out: Vec<u8>,
    places: Vec<usize>,
}

impl Default for Writer {
    fn default() -> Self {
        Self { out: b"%PDF-1.5\n".to_vec(), places: Vec::new() }
    }
}

impl Writer {
    /// Adds an object. Gives its number.
    pub fn add(&mut self, object: &[u8]) -> u32 {
        let id = self.reserve();
        self.fill(id, object);
        id
    }

    /// Adds a stream. `entries` are those of its dictionary beside the length.
    pub fn add_stream(&mut self, entries: &[u8], content: &[u8]) -> u32 {
        let id = self.reserve();
        self.place(id);
        let _ = write!(self.out, "{id} 0 obj\n<</Length {}", content.len());
        self.out.extend_from_slice(entries);
        self.out.extend_from_slice(b">>stream\n");
        self.out.extend_from_slice(content);
        self.out.extend_from_slice(b"\nendstream\nendobj\n");
        id
    }

    /// Takes a number for an object that is written later.
    pub fn reserve(&mut self) -> u32 {
        self.places.push(0);
        u32::try_from(self.places.len()).unwrap_or(u32::MAX)
    }

    /// Writes an object under a number taken before.
    pub fn fill(&mut self, id: u32, object: &[u8]) {
        self.place(id);
        let _ = writeln!(self.out, "{id} 0 obj");
        self.out.extend_from_slice(object);
        self.out.extend_from_slice(b"\nendobj\n");
    }

    /// Ends the document.
    pub fn finish(mut self, root: u32) -> Vec<u8> {
        let table = self.out.len();
        let count = self.places.len() + 1;
        let _ = writeln!(self.out, "xref\n0 {count}\n0000000000 65535 f ");
        for place in &self.places {
            let _ = writeln!(self.out, "{place:010} 00000 n ");
        }
        let _ = write!(self.out, "trailer\n<</Size {count}/Root {root} 0 R>>\nstartxref\n{table}\n%%EOF\n");
        self.out
    }

    fn place(&mut self, id: u32) {
        let at = self.out.len();
        if let Some(place) = usize::try_from(id).ok().and_then(|i| self.places.get_mut(i.checked_sub(1)?)) {
            *place = at;
        }
    }
}
