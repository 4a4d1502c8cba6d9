//! Content streams to operations. Never fails: what cannot be understood is stepped over.

/// Operands kept for one operation; more belong to no operator.
const MOST_OPERANDS: usize = 64;
/// Members of one array: a line of text set glyph by glyph stays far below.
const MOST_MEMBERS: usize = 20_000;
/// Arrays and dictionaries within each other.
const DEEPEST: usize = 8;

/// An operand.
#[derive(Clone, Debug, PartialEq)]
pub enum Operand {
    /// A number, always finite.
    Number(f32),
    /// A name, without its slash.
    Name(Vec<u8>),
    /// A string, decoded.
    Text(Vec<u8>),
    /// An array.
    Array(Vec<Operand>),
    /// A dictionary.
    Dictionary(Vec<(Vec<u8>, Operand)>),
}

impl Operand {
    /// The number.
    pub fn number(&self) -> Option<f32> {
        match self {
            Self::Number(n) => Some(*n),
            _ => None,
        }
    }

    /// The name.
    pub fn name(&self) -> Option<&[u8]> {
        match self {
            Self::Name(n) => Some(n),
            _ => None,
        }
    }
}

/// Reads operations one by one.
pub struct Lexer<'a> {
    data: &'a [u8],
    at: usize,
    most: usize,
}

enum Token<'a> {
    Operand(Operand),
    Operator(&'a [u8]),
    Close(u8),
}

impl<'a> Lexer<'a> {
    /// Starts at the beginning of a content stream.
    pub fn new(data: &'a [u8]) -> Self {
        Self { data, at: 0, most: MOST_OPERANDS }
    }

    /// For character maps, whose operators take as many operands as they like.
    pub fn with_operands(data: &'a [u8], most: usize) -> Self {
        Self { data, at: 0, most }
    }

    /// The next operator, its operands left in `operands`. An inline image comes as `BI`, its data passed over.
    pub fn next(&mut self, operands: &mut Vec<Operand>) -> Option<&'a [u8]> {
        operands.clear();
        loop {
            match self.token(0)? {
                Token::Operand(operand) => {
                    if operands.len() < self.most {
                        operands.push(operand);
                    }
                }
                Token::Operator(b"BI") => {
                    self.skip_inline_image();
                    return Some(b"BI");
                }
                Token::Operator(operator) => return Some(operator),
                Token::Close(_) => {}
            }
        }
    }

    fn peek(&self) -> Option<u8> {
        self.data.get(self.at).copied()
    }

    fn skip_blanks(&mut self) {
        while let Some(c) = self.peek() {
            if c == b'%' {
                while self.peek().is_some_and(|c| c != b'\n' && c != b'\r') {
                    self.at += 1;
                }
            } else if is_blank(c) {
                self.at += 1;
            } else {
                break;
            }
        }
    }

    fn token(&mut self, depth: usize) -> Option<Token<'a>> {
        loop {
            self.skip_blanks();
            let c = self.peek()?;
            let doubled = self.data.get(self.at + 1) == Some(&c);
            return match c {
                b'0'..=b'9' | b'+' | b'-' | b'.' => Some(Token::Operand(Operand::Number(self.number()))),
                b'/' => {
                    self.at += 1;
                    Some(Token::Operand(Operand::Name(self.name())))
                }
                b'(' => Some(Token::Operand(Operand::Text(self.literal()))),
                b'<' if !doubled => Some(Token::Operand(Operand::Text(self.hexadecimal()))),
                b']' | b'}' | b')' => {
                    self.at += 1;
                    Some(Token::Close(c))
                }
                b'>' => {
                    self.at += if doubled { 2 } else { 1 };
                    Some(Token::Close(c))
                }
                // Nested beyond reason: the bracket is stepped over, its content read where it is.
                b'<' | b'[' | b'{' if c == b'{' || depth >= DEEPEST => {
                    self.at += 1;
                    continue;
                }
                b'<' => {
                    self.at += 2;
                    Some(Token::Operand(Operand::Dictionary(self.dictionary(depth + 1))))
                }
                b'[' => {
                    self.at += 1;
                    Some(Token::Operand(Operand::Array(self.array(depth + 1))))
                }
                _ => {
                    let start = self.at;
                    while self.peek().is_some_and(|c| !is_blank(c) && !is_delimiter(c)) {
                        self.at += 1;
                    }
                    Some(Token::Operator(self.data.get(start..self.at).unwrap_or_default()))
                }
            };
        }
    }

    /// A number, read leniently: `--5`, `5-3` and `.` occur in the wild.
    fn number(&mut self) -> f32 {
        let mut negative = false;
        let mut whole = 0.0_f64;
        let mut scale = 0.0_f64;
        while let Some(c) = self.peek() {
            match c {
                b'-' if whole == 0.0 && scale == 0.0 => negative = true,
                b'+' | b'-' => {}
                b'.' => scale = if scale == 0.0 { 1.0 } else { scale },
                b'0'..=b'9' if scale == 0.0 => whole = whole * 10.0 + f64::from(c - b'0'),
                b'0'..=b'9' => {
                    scale /= 10.0;
                    whole += scale * f64::from(c - b'0');
                }
                _ => break,
            }
            self.at += 1;
        }
        let value = if negative { -whole } else { whole };
        // Far outside any page, where sums would overflow.
        value.clamp(-1.0e7, 1.0e7) as f32
    }

    fn name(&mut self) -> Vec<u8> {
        let mut name = Vec::new();
        while let Some(c) = self.peek() {
            if is_blank(c) || is_delimiter(c) {
                break;
            }
            self.at += 1;
            let escaped = match (c, self.data.get(self.at), self.data.get(self.at + 1)) {
                (b'#', Some(a), Some(b)) => hexadecimal_digit(*a).zip(hexadecimal_digit(*b)),
                _ => None,
            };
            if let Some((a, b)) = escaped {
                name.push(a * 16 + b);
                self.at += 2;
            } else {
                name.push(c);
            }
        }
        name
    }

    fn literal(&mut self) -> Vec<u8> {
        self.at += 1;
        let mut text = Vec::new();
        let mut depth = 1_u32;
        while let Some(c) = self.peek() {
            self.at += 1;
            match c {
                b'(' => {
                    depth += 1;
                    text.push(c);
                }
                b')' => {
                    depth -= 1;
                    if depth == 0 {
                        break;
                    }
                    text.push(c);
                }
                b'\\' => self.escape(&mut text),
                _ => text.push(c),
            }
        }
        text
    }

    fn escape(&mut self, text: &mut Vec<u8>) {
        let Some(c) = self.peek() else { return };
        self.at += 1;
        match c {
            b'n' => text.push(b'\n'),
            b'r' => text.push(b'\r'),
            b't' => text.push(b'\t'),
            b'b' => text.push(8),
            b'f' => text.push(12),
            b'\r' => {
                if self.peek() == Some(b'\n') {
                    self.at += 1;
                }
            }
            b'\n' => {}
            b'0'..=b'7' => {
                let mut code = u32::from(c - b'0');
                for _ in 0..2 {
                    match self.peek() {
                        Some(d @ b'0'..=b'7') => {
                            code = code * 8 + u32::from(d - b'0');
                            self.at += 1;
                        }
                        _ => break,
                    }
                }
                text.push((code & 0xff) as u8);
            }
            _ => text.push(c),
        }
    }

    fn hexadecimal(&mut self) -> Vec<u8> {
        self.at += 1;
        let mut text = Vec::new();
        let mut half: Option<u8> = None;
        while let Some(c) = self.peek() {
            self.at += 1;
            if c == b'>' {
                break;
            }
            if let Some(digit) = hexadecimal_digit(c) {
                match half.take() {
                    Some(high) => text.push(high * 16 + digit),
                    None => half = Some(digit),
                }
            }
        }
        if let Some(high) = half {
            text.push(high * 16);
        }
        text
    }

    fn array(&mut self, depth: usize) -> Vec<Operand> {
        let mut members = Vec::new();
        while let Some(token) = self.token(depth) {
            match token {
                Token::Close(b']') => break,
                Token::Operand(operand) if members.len() < MOST_MEMBERS => members.push(operand),
                // An operator inside an array: the array was never closed.
                Token::Operator(b"ET" | b"Tj" | b"TJ" | b"Tm" | b"Td") => break,
                _ => {}
            }
        }
        members
    }

    fn dictionary(&mut self, depth: usize) -> Vec<(Vec<u8>, Operand)> {
        let mut entries = Vec::new();
        let mut key: Option<Vec<u8>> = None;
        while let Some(token) = self.token(depth) {
            match (token, key.take()) {
                (Token::Close(b'>'), _) => break,
                (Token::Operand(Operand::Name(name)), None) => key = Some(name),
                (Token::Operand(value), Some(name)) if entries.len() < MOST_OPERANDS => {
                    entries.push((name, value));
                }
                (Token::Operator(b"BT" | b"ET" | b"BMC" | b"BDC"), _) => break,
                _ => {}
            }
        }
        entries
    }

    /// Passes over an inline image up to an `EI` that content follows rather than more of the picture.
    fn skip_inline_image(&mut self) {
        let mut from = self.at;
        while let Some(found) = find(self.data, b"EI", from) {
            from = found + 2;
            let before = found.checked_sub(1).and_then(|i| self.data.get(i)).copied();
            let after = self.data.get(found + 2..(found + 18).min(self.data.len())).unwrap_or_default();
            let ends = before.is_some_and(is_blank)
                && after.first().is_none_or(|c| is_blank(*c))
                && after.iter().all(|c| matches!(c, 0x20..=0x7e | b'\r' | b'\n' | b'\t'));
            if ends {
                self.at = found + 2;
                return;
            }
        }
        // No end: the rest of the stream is the picture, unless text visibly begins again.
        self.at = find(self.data, b"\nBT", self.at).map_or(self.data.len(), |f| f + 1);
    }
}

fn find(data: &[u8], what: &[u8], from: usize) -> Option<usize> {
    let rest = data.get(from..)?;
    rest.windows(what.len()).position(|w| w == what).map(|i| from + i)
}

fn is_blank(c: u8) -> bool {
    matches!(c, 0 | 9 | 10 | 12 | 13 | 32)
}

fn is_delimiter(c: u8) -> bool {
    matches!(c, b'(' | b')' | b'<' | b'>' | b'[' | b']' | b'{' | b'}' | b'/' | b'%')
}

/// Value of a hexadecimal digit.
pub fn hexadecimal_digit(c: u8) -> Option<u8> {
    match c {
        b'0'..=b'9' => Some(c - b'0'),
        b'a'..=b'f' => Some(c - b'a' + 10),
        b'A'..=b'F' => Some(c - b'A' + 10),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(data: &[u8]) -> Vec<(Vec<Operand>, String)> {
        let mut lexer = Lexer::new(data);
        let mut operands = Vec::new();
        let mut found = Vec::new();
        while let Some(operator) = lexer.next(&mut operands) {
            found.push((operands.clone(), String::from_utf8_lossy(operator).into_owned()));
        }
        found
    }

    #[test]
    fn numbers_strings_and_names() {
        let got = all(b"/F#311 -.5 Tf (a\\(b\\051\\\nc) Tj [<41 4> -120 (x)]TJ 1 0 0 1 5. --7 cm");
        assert_eq!(got[0].0, [Operand::Name(b"F11".to_vec()), Operand::Number(-0.5)]);
        assert_eq!(got[1].0, [Operand::Text(b"a(b)c".to_vec())]);
        let members = vec![Operand::Text(b"A@".to_vec()), Operand::Number(-120.0), Operand::Text(b"x".to_vec())];
        assert_eq!(got[2].0, [Operand::Array(members)]);
        assert_eq!(got[3].0[5], Operand::Number(-7.0));
        assert_eq!(got[3].1, "cm");
    }

    #[test]
    fn pictures_in_the_stream_are_passed_over() {
        let got = all(b"q BI /W 2 /H 2 ID \x01 EI \xff\x00 EI Q BT (x) Tj ET");
        let names: Vec<_> = got.iter().map(|g| g.1.as_str()).collect();
        assert_eq!(names, ["q", "BI", "Q", "BT", "Tj", "ET"]);
    }

    #[test]
    fn garbage_ends() {
        for data in
            [&b"[[[[[[[[[[[[[[(((("[..], b"<<<<<</a<<", b"]]>>)}{", b"BI ID", b"[1 2 ET (a) Tj", b"\xff\xfe\x00("]
        {
            all(data);
        }
        all(&[b'['; 100_000]);
    }
}
