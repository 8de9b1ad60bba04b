//! Bytes to text: names the first byte that is no UTF-8 and goes on with the rest.

/// The first byte sequence that is not UTF-8.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DecodeFault {
    /// Offset of the replacement character in the decoded text (bytes).
    pub offset: u32,
    /// The offending byte.
    pub byte: u8,
}

/// A text and what was wrong with its bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Decoded {
    /// The text; each faulty sequence stands as U+FFFD.
    pub text: String,
    /// The first fault, if any.
    pub fault: Option<DecodeFault>,
}

/// Decodes UTF-8. Valid input is returned unchanged, byte for byte.
pub fn decode(bytes: Vec<u8>) -> Decoded {
    match String::from_utf8(bytes) {
        Ok(text) => Decoded { text, fault: None },
        Err(error) => {
            let offset = error.utf8_error().valid_up_to();
            let bytes = error.into_bytes();
            let byte = bytes.get(offset).copied().unwrap_or(0);
            let text = String::from_utf8_lossy(&bytes).into_owned();
            Decoded {
                text,
                fault: Some(DecodeFault {
                    offset: offset as u32,
                    byte,
                }),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wrong_byte_is_named_and_the_rest_is_kept() {
        let decoded = decode(b"stage w\xff\nnext".to_vec());
        assert_eq!(
            decoded.fault,
            Some(DecodeFault {
                offset: 7,
                byte: 0xff
            })
        );
        assert!(decoded.text.ends_with("\nnext"));
    }
}
