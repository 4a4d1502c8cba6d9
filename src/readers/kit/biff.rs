//! Records of the workbook stream of Excel 5 to 2003. Sources: MS-XLS; for Excel 5 and 7, whose records are older
//! than that document, OpenOffice's "Documentation of the Microsoft Excel File Format".

use super::workbook::Look;
use encoding_rs::{Encoding, WINDOWS_1252};

/// Numbers of the records that are read.
pub mod kind {
    #![allow(missing_docs)]
    pub const FORMULA: u16 = 0x0006;
    pub const EOF: u16 = 0x000a;
    pub const DATE_MODE: u16 = 0x0022;
    pub const FILE_PASS: u16 = 0x002f;
    pub const FONT: u16 = 0x0031;
    pub const CONTINUE: u16 = 0x003c;
    pub const CODE_PAGE: u16 = 0x0042;
    pub const COL_INFO: u16 = 0x007d;
    pub const BOUND_SHEET: u16 = 0x0085;
    pub const MUL_RK: u16 = 0x00bd;
    pub const R_STRING: u16 = 0x00d6;
    pub const XF: u16 = 0x00e0;
    pub const MERGE_CELLS: u16 = 0x00e5;
    pub const SST: u16 = 0x00fc;
    pub const LABEL_SST: u16 = 0x00fd;
    pub const NUMBER: u16 = 0x0203;
    pub const LABEL: u16 = 0x0204;
    pub const BOOL_ERR: u16 = 0x0205;
    pub const STRING: u16 = 0x0207;
    pub const ROW: u16 = 0x0208;
    pub const RK: u16 = 0x027e;
    pub const FORMAT: u16 = 0x041e;
    pub const BOF: u16 = 0x0809;
}

/// A record with the records that go on from it.
#[derive(Debug)]
pub struct Record<'a> {
    /// Its number.
    pub kind: u16,
    /// Its content.
    pub data: &'a [u8],
    /// Contents of the CONTINUE records behind it.
    pub more: Vec<&'a [u8]>,
}

/// The records of a stream from a place on. Ends where the stream is cut.
pub struct Records<'a> {
    rest: &'a [u8],
}

impl<'a> Records<'a> {
    /// From a place in the stream on.
    pub fn from(stream: &'a [u8], place: usize) -> Self {
        Self { rest: stream.get(place..).unwrap_or_default() }
    }

    fn raw(&mut self) -> Option<(u16, &'a [u8])> {
        let kind = u16_at(self.rest, 0)?;
        let end = 4 + usize::from(u16_at(self.rest, 2)?);
        let data = self.rest.get(4..end)?;
        self.rest = self.rest.get(end..)?;
        Some((kind, data))
    }
}

impl<'a> Iterator for Records<'a> {
    type Item = Record<'a>;

    fn next(&mut self) -> Option<Record<'a>> {
        let (kind, data) = self.raw()?;
        let mut more = Vec::new();
        while u16_at(self.rest, 0) == Some(kind::CONTINUE) {
            match self.raw() {
                Some((_, data)) => more.push(data),
                None => break,
            }
        }
        Some(Record { kind, data, more })
    }
}

/// Two bytes as a number, least first.
pub fn u16_at(data: &[u8], place: usize) -> Option<u16> {
    let bytes = data.get(place..place.checked_add(2)?)?;
    bytes.try_into().ok().map(u16::from_le_bytes)
}

/// Four bytes as a number, least first.
pub fn u32_at(data: &[u8], place: usize) -> Option<u32> {
    let bytes = data.get(place..place.checked_add(4)?)?;
    bytes.try_into().ok().map(u32::from_le_bytes)
}

/// Eight bytes as a number.
pub fn f64_at(data: &[u8], place: usize) -> Option<f64> {
    let bytes = data.get(place..place.checked_add(8)?)?;
    bytes.try_into().ok().map(f64::from_le_bytes)
}

/// How strings are written: in Excel 97 and later as Unicode, before in the code page of the machine.
#[derive(Clone, Copy, Debug)]
pub struct Strings {
    /// Excel 97 or later.
    pub unicode: bool,
    /// The code page of older ones.
    pub page: &'static Encoding,
}

impl Strings {
    /// The encoding of a code page by its number.
    pub fn page(number: u16) -> &'static Encoding {
        match number {
            10000 | 0x8000 => encoding_rs::MACINTOSH,
            932 => encoding_rs::SHIFT_JIS,
            936 => encoding_rs::GBK,
            949 => encoding_rs::EUC_KR,
            950 => encoding_rs::BIG5,
            866 => encoding_rs::IBM866,
            number => Encoding::for_label(format!("windows-{number}").as_bytes()).unwrap_or(WINDOWS_1252),
        }
    }

    /// A string of its own record: its length in two bytes (one where `short`), then its characters.
    pub fn read(self, data: &[u8], short: bool) -> Option<String> {
        let (count, rest) = if short {
            (usize::from(*data.first()?), data.get(1..)?)
        } else {
            (usize::from(u16_at(data, 0)?), data.get(2..)?)
        };
        if !self.unicode {
            let bytes = rest.get(..count.min(rest.len()))?;
            return Some(self.page.decode_without_bom_handling(bytes).0.into_owned());
        }
        let mut segments = Segments::new(rest, &[]);
        let wide = segments.u8()? & 1 != 0;
        let units = segments.units(count, wide);
        Some(String::from_utf16_lossy(&units))
    }
}

/// A record and those that go on from it, read as one.
struct Segments<'a> {
    current: &'a [u8],
    more: std::slice::Iter<'a, &'a [u8]>,
}

impl<'a> Segments<'a> {
    fn new(first: &'a [u8], more: &'a [&'a [u8]]) -> Self {
        Self { current: first, more: more.iter() }
    }

    /// Goes on to the next segment where this one is used up.
    fn refill(&mut self) -> bool {
        while self.current.is_empty() {
            match self.more.next() {
                Some(next) => self.current = next,
                None => return false,
            }
        }
        true
    }

    fn u8(&mut self) -> Option<u8> {
        self.refill();
        let (first, rest) = self.current.split_first()?;
        self.current = rest;
        Some(*first)
    }

    fn u16(&mut self) -> Option<u16> {
        Some(u16::from_le_bytes([self.u8()?, self.u8()?]))
    }

    fn u32(&mut self) -> Option<u32> {
        Some(u32::from_le_bytes([self.u8()?, self.u8()?, self.u8()?, self.u8()?]))
    }

    fn skip(&mut self, mut count: usize) {
        while count > 0 && self.refill() {
            let step = count.min(self.current.len());
            self.current = self.current.get(step..).unwrap_or_default();
            count -= step;
        }
    }

    /// Characters of a string. A segment that goes on with them says anew how wide they are.
    fn units(&mut self, count: usize, mut wide: bool) -> Vec<u16> {
        let mut units = Vec::new();
        while units.len() < count {
            if self.current.is_empty() {
                if !self.refill() {
                    break;
                }
                let Some(flags) = self.u8() else { break };
                wide = flags & 1 != 0;
                continue;
            }
            let unit = if wide { self.u16() } else { self.u8().map(u16::from) };
            match unit {
                Some(unit) => units.push(unit),
                None => break,
            }
        }
        units
    }
}

/// The shared strings of a workbook as they are drawn. `look`: that of a font by its index.
/// Source: MS-XLS, sections 2.4.265 and 2.5.293.
pub fn shared_strings(record: &Record<'_>, look: &dyn Fn(u16) -> Look) -> Vec<String> {
    let mut segments = Segments::new(record.data.get(8..).unwrap_or_default(), &record.more);
    let claimed = u32_at(record.data, 4).unwrap_or(0);
    let mut strings = Vec::new();
    while (strings.len() as u64) < u64::from(claimed) && segments.refill() {
        let Some(text) = shared_string(&mut segments, look) else { break };
        strings.push(text);
    }
    strings
}

fn shared_string(segments: &mut Segments<'_>, look: &dyn Fn(u16) -> Look) -> Option<String> {
    let count = usize::from(segments.u16()?);
    let flags = segments.u8()?;
    let runs = if flags & 8 != 0 { usize::from(segments.u16()?) } else { 0 };
    let extra = if flags & 4 != 0 { segments.u32()? as usize } else { 0 };
    let units = segments.units(count, flags & 1 != 0);
    let mut drawn_runs = Vec::new();
    for _ in 0..runs {
        let (Some(first), Some(font)) = (segments.u16(), segments.u16()) else { break };
        drawn_runs.push((usize::from(first), look(font)));
    }
    segments.skip(extra);
    Some(super::workbook::rich_text(&units, &drawn_runs))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_string_that_goes_on_in_the_next_record_may_change_its_width() {
        // "ab" narrow, then "µm" wide in the CONTINUE record, then a second string "3" with one raised run.
        let mut first = vec![2, 0, 0, 0, 2, 0, 0, 0, 4, 0, 0, b'a', b'b'];
        let more = [1, 0xb5, 0, b'm', 0, 3, 0, 8, 1, 0, b'c', b'm', b'3', 2, 0, 7, 0];
        let record = Record { kind: kind::SST, data: &first, more: vec![&more] };
        assert_eq!(
            shared_strings(&record, &|font| if font == 7 { Look::Raised } else { Look::Plain }),
            ["abµm", "cm³"]
        );
        first.truncate(11);
        let cut = Record { kind: kind::SST, data: &first, more: vec![] };
        assert_eq!(shared_strings(&cut, &|_| Look::Plain).len(), 1);
    }

    #[test]
    fn records_end_where_the_stream_is_cut() {
        let stream = [0x09, 0x08, 2, 0, 1, 2, 0x3c, 0, 1, 0, 9, 0x0a, 0, 5, 0, 1];
        let records: Vec<Record<'_>> = Records::from(&stream, 0).collect();
        assert_eq!(records.len(), 1);
        assert_eq!(records.first().unwrap().more, [&[9][..]]);
        assert_eq!(Records::from(&stream, 99).count(), 0);
    }
}
