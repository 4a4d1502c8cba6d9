//! Messages between the program and its workers: a length of four bytes, the lowest first, and then the bytes.

use std::io::{self, ErrorKind, Read, Write};

/// Longest frame that is taken: a file at its limit, or all that is read of one.
const MOST: usize = 512 << 20;

/// Writes one frame. Flush when the last of a message is written.
pub fn write(output: &mut impl Write, bytes: &[u8]) -> io::Result<()> {
    let length = u32::try_from(bytes.len()).map_err(|_| ErrorKind::InvalidInput)?;
    output.write_all(&length.to_le_bytes())?;
    output.write_all(bytes)
}

/// Takes one frame; none at the end of the input.
pub fn read(input: &mut impl Read) -> io::Result<Option<Vec<u8>>> {
    let mut length = [0; 4];
    if input.read(&mut length[..1])? == 0 {
        return Ok(None);
    }
    input.read_exact(&mut length[1..])?;
    let length = u32::from_le_bytes(length) as usize;
    if length > MOST {
        return Err(ErrorKind::InvalidData.into());
    }
    let mut bytes = Vec::new();
    input.take(length as u64).read_to_end(&mut bytes)?;
    if bytes.len() < length {
        return Err(ErrorKind::UnexpectedEof.into());
    }
    Ok(Some(bytes))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn frames_come_out_as_they_went_in() {
        let mut pipe = Vec::new();
        for frame in [&b"one"[..], b"", b"three"] {
            write(&mut pipe, frame).unwrap();
        }
        let mut pipe = pipe.as_slice();
        let mut frames = Vec::new();
        while let Some(frame) = read(&mut pipe).unwrap() {
            frames.push(frame);
        }
        assert_eq!(frames, [&b"one"[..], b"", b"three"]);
    }

    #[test]
    fn what_breaks_off_or_is_no_frame_is_an_error() {
        for broken in [&[5, 0, 0, 0, b'a'][..], &[5, 0], &[0xff, 0xff, 0xff, 0xff]] {
            assert!(read(&mut &*broken).is_err());
        }
    }
}
