//! Faults of syntax in plain words.

use super::places;
use crate::text::fault::{Fault, FaultKind};
use crate::text::span::{FileId, Span};
use granit_parser::{ErrorKind, ScanError};

/// Nested too deep.
pub(super) fn too_deep(span: Span, depth: usize) -> Fault {
    Fault::new(FaultKind::TooDeep, span, format!("tables and lists are nested more than {depth} deep here"))
}

/// The fault for what the parser stopped at.
pub(super) fn fault(file: FileId, text: &str, depth: usize, error: &ScanError) -> Fault {
    let span = stopped_at(file, text, error);
    if *error.kind() == ErrorKind::RecursionLimitExceeded {
        return too_deep(span, depth);
    }
    let (message, help) = say(error.kind());
    let message = match message {
        Some(message) => message,
        None => format!("this is not well-formed YAML: {}", error.info()),
    };
    let fault = Fault::new(FaultKind::Syntax, span, message);
    match help {
        "" => fault,
        help => fault.with_help(help),
    }
}

/// The sign to mark: what the parser stopped at, or the last before it. Where the parser has already looked past the
/// culprit, that is looked for on the line.
fn stopped_at(file: FileId, text: &str, error: &ScanError) -> Span {
    use ErrorKind as E;
    let at = error.marker().byte_offset().unwrap_or(text.len());
    let before = text.get(..at).unwrap_or_default();
    let line = before.rfind(['\n', '\r']).map_or(0, |end| end + 1);
    let on_line = before.get(line..).unwrap_or_default();
    let culprit = match error.kind() {
        E::TabNotAllowed | E::TabInBlockIndentation | E::TabInIndentation => on_line.find('\t'),
        E::ExpectedBlockMappingKey => on_line.find(|sign: char| !sign.is_whitespace()),
        _ => None,
    };
    let at = culprit.map_or(at, |culprit| line + culprit);
    match text.get(at..).and_then(|rest| rest.chars().next()) {
        Some(sign) if sign == '\t' || !sign.is_whitespace() => Span::new(file, at, at + sign.len_utf8()),
        _ => places::fit(file, text, at, at),
    }
}

const INDENTATION: &str =
    "entries of one table begin in the same column, and what belongs to a key stands further in";

/// What went wrong in plain words, and what to do. Nothing for kinds that hardly ever come up.
fn say(kind: &ErrorKind) -> (Option<String>, &'static str) {
    use ErrorKind as E;
    let (message, help) = match kind {
        E::UnexpectedEofFlowSequence => ("a `[` is not closed with `]`", ""),
        E::UnexpectedEofFlowMapping => ("a `{` is not closed with `}`", ""),
        E::UnclosedFlowCollection { open } | E::MismatchedFlowCollectionEnd { open, .. } => {
            let close = if *open == '[' { ']' } else { '}' };
            let message = match kind {
                E::MismatchedFlowCollectionEnd { close: found, .. } => {
                    format!("`{open}` is closed with `{found}`")
                }
                _ => format!("`{open}` is not closed"),
            };
            let help = if close == ']' { "close it with `]`" } else { "close it with `}`" };
            return (Some(message), help);
        }
        E::MisplacedFlowCollectionEnd => {
            ("this bracket closes nothing", "take it out, or put quotes round text that begins with it")
        }
        E::UnexpectedEofImplicitFlowMapping => (
            "an entry, or the closing bracket, should stand here",
            "separate entries with one comma, and close the bracket",
        ),
        E::ExpectedFlowSequenceSeparator | E::ExpectedFlowMappingSeparator => (
            "a comma or a closing bracket should stand here",
            "separate entries with one comma, and close the bracket",
        ),
        E::InvalidColonPlacement => (
            "this `:` cannot stand inside the bracket opened before it",
            "close the bracket before the next key",
        ),
        E::FlowMappingValueAdjacentCollection => ("`:` needs a blank after it", ""),
        E::MappingValueNotAllowed => (
            "this `:` cannot begin a value here",
            "check the indentation; write a blank after every key's colon; put quotes round text that holds `: `",
        ),
        E::MappingKeyNotAllowed => ("a key cannot stand here", INDENTATION),
        E::SimpleKeyExpected | E::InvalidSimpleKey => (
            "`:` is missing after this key",
            "a key and its colon stand on one line, with a blank after the colon; a list entry begins with `- `",
        ),
        E::ExpectedBlockMappingKey => ("the next key of the table should stand here", INDENTATION),
        E::ExpectedBlockSequenceEntry => {
            ("the next `- ` of the list should stand here", "entries of one list begin in the same column")
        }
        E::InvalidIndentation | E::InvalidFlowScalarIndent | E::InvalidQuotedScalarIndent => (
            "this line is not indented as it should be",
            "what belongs to a key stands further in than the key",
        ),
        E::BlockSequenceEntryNotAllowed | E::BlockEntryInFlowCollection => {
            ("a `- ` list cannot begin here", "begin it on a line of its own, or write the list in brackets")
        }
        E::InvalidBlockEntryWhitespace => ("`-` needs a blank after it", ""),
        E::InvalidMappingValueWhitespace => ("`:` needs a blank after it, not a tab", ""),
        E::TabNotAllowed
        | E::TabInBlockIndentation
        | E::TabInIndentation
        | E::TabInPlainScalar
        | E::TabAtBlockScalarStart => ("a tab stands where only blanks may", "indent with blanks"),
        E::UnclosedQuotedScalar => ("this quote is not closed", ""),
        E::DocumentIndicatorInQuotedScalar => {
            ("a quote is still open where `---` or `...` stands", "close the quote")
        }
        E::InvalidTrailingSingleQuotedScalar => {
            ("text follows the closing quote", "inside single quotes write a single quote twice")
        }
        E::InvalidTrailingDoubleQuotedScalar => {
            ("text follows the closing quote", "inside double quotes write a double quote as `\\\"`")
        }
        E::UnknownQuotedScalarEscape
        | E::InvalidQuotedScalarHexEscape
        | E::InvalidLowSurrogateHexEscape
        | E::InvalidLowSurrogate
        | E::MissingLowSurrogate
        | E::UnpairedLowSurrogate
        | E::InvalidUnicodeEscape => (
            "an escape in this text is not one of YAML's",
            "write a backslash inside double quotes as `\\\\`",
        ),
        E::UnexpectedCharacter { character: '`' } => {
            ("text cannot begin with a backtick", "put quotes round it")
        }
        E::UnexpectedCharacter { character } => {
            let message = format!("text cannot begin with `{}`", character.escape_debug());
            return (Some(message), "put quotes round it");
        }
        E::PlainScalarStartsWithDashFlowIndicator => {
            ("text cannot begin with `-` here", "put quotes round it")
        }
        E::UnexpectedEndOfPlainScalar | E::ExpectedNodeContent => {
            ("a value should stand here", "write one, or put quotes round it")
        }
        E::CommentInterceptedScalar => {
            ("text goes on after a comment", "put the comment on a line before the text")
        }
        E::CommentNotSeparated => ("`#` needs a blank before it", ""),
        E::ExpectedWhitespace => ("a blank should stand here", ""),
        E::DirectiveDisallowed => ("lines that begin with `%` are not read here", "take it out"),
        E::MissingAnchorOrAliasName => {
            ("a name is missing after `&` or `*`", "put quotes round text that begins with `&` or `*`")
        }
        E::InvalidDocumentEnd => ("nothing may follow `...` on its line", ""),
        E::BomInsideDocument => (
            "a byte order mark stands inside the text",
            "take it out; it may only be the first character of a file",
        ),
        E::ZeroBlockScalarIndent | E::InvalidBlockScalarHeader | E::InvalidBlockScalarIndent => (
            "a block of text is not written as it should be",
            "after `|` or `>` begin on a new line, further in than the key",
        ),
        E::UndeclaredTagHandle
        | E::ExpectedTagBang
        | E::InvalidGlobalTagCharacter
        | E::InvalidTagTerminator
        | E::MissingTagUri
        | E::UnclosedVerbatimTag
        | E::InvalidTagEscape
        | E::InvalidTagUtf8LeadingByte
        | E::InvalidTagUtf8TrailingByte
        | E::InvalidTagUtf8 => (TAGS, TAGS_HELP),
        E::UnexpectedEof | E::UnexpectedEofBlockMapping | E::UnexpectedEofBlockSequence => {
            ("the text ends too soon", "")
        }
        _ => return (None, ""),
    };
    (Some(message.to_owned()), help)
}

/// Told about tags, by whoever meets them.
pub(super) const TAGS: &str = "tags are not read here";
/// What to do about tags.
pub(super) const TAGS_HELP: &str = "leave out the `!` word; put quotes round text that begins with `!`";
