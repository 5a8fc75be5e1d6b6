package output

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"hash/crc32"
	"path/filepath"
	"strings"
)

// A mark is the SHA-256 of a file's content, set into the file itself where its format has room for a remark that no
// reader shows: so a file can be told for one of ours that nobody has changed since.
const word = "spile "

// markLength is that of a mark as text.
const markLength = len(word) + 2*sha256.Size

func markOf(content []byte) string {
	sum := sha256.Sum256(content)
	return word + hex.EncodeToString(sum[:])
}

// room is where a format has room for a mark.
type room struct {
	put  func(content []byte, mark string) []byte
	take func(data []byte) (content []byte, mark string, ok bool)
}

// rooms are the formats that can be marked, by the ending of a file's name. What a person writes by hand or in an
// editor (CSV, TOML, BibTeX, JSON …) is never marked.
var rooms = map[string]room{
	".svg":  tail("\n<!-- ", " -->\n"),
	".html": tail("\n<!-- ", " -->\n"),
	".htm":  tail("\n<!-- ", " -->\n"),
	".pdf":  tail("\n%", "\n"),
	".png":  {putPNG, takePNG},
	".zip":  {putZIP, takeZIP},
	".xlsx": {putZIP, takeZIP},
	".pptx": {putZIP, takeZIP},
}

func roomOf(path string) (room, bool) {
	r, ok := rooms[strings.ToLower(filepath.Ext(path))]
	return r, ok
}

// marked is the content with its mark, where the format has room for one.
func marked(path string, content []byte) []byte {
	r, ok := roomOf(path)
	if !ok {
		return content
	}
	return r.put(content, markOf(content))
}

// ours is true of a file that carries the mark of its own content.
func ours(path string, data []byte) bool {
	r, ok := roomOf(path)
	if !ok {
		return false
	}
	content, mark, ok := r.take(data)
	return ok && mark == markOf(content)
}

// tail is a remark behind the end: a comment of XML, or of PDF, whose readers look for the end from behind.
func tail(open, shut string) room {
	return room{
		func(content []byte, mark string) []byte { return append(bytes.Clone(content), open+mark+shut...) },
		func(data []byte) ([]byte, string, bool) {
			data, ok := bytes.CutSuffix(data, []byte(shut))
			at := len(data) - markLength
			if !ok || at < 0 {
				return nil, "", false
			}
			content, ok := bytes.CutSuffix(data[:at], []byte(open))
			return content, string(data[at:]), ok
		},
	}
}

// pngEnd is the length of the chunk IEND, which is the last of a PNG file (ISO/IEC 15948, 11.2.5).
const pngEnd = 12

// pngChunk is a text chunk (11.3.4.3) that holds a mark: length, type, keyword and text, CRC.
func pngChunk(mark string) []byte {
	text := "Comment\x00" + mark
	b := binary.BigEndian.AppendUint32(nil, uint32(len(text)))
	b = append(b, "tEXt"+text...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

func putPNG(content []byte, mark string) []byte {
	end := len(content) - pngEnd
	if end < 0 {
		return content
	}
	return append(append(bytes.Clone(content[:end]), pngChunk(mark)...), content[end:]...)
}

func takePNG(data []byte) ([]byte, string, bool) {
	size := len(pngChunk(strings.Repeat("x", markLength)))
	at := len(data) - pngEnd - size
	if at < 0 {
		return nil, "", false
	}
	mark := string(data[at+size-4-markLength : at+size-4])
	content := append(bytes.Clone(data[:at]), data[at+size:]...)
	return content, mark, bytes.Equal(data[at:at+size], pngChunk(mark))
}

// zipEnd is the length of the record that ends a ZIP file, whose last field is the length of the comment behind it
// (APPNOTE 4.3.16).
const zipEnd = 22

func putZIP(content []byte, mark string) []byte {
	at := len(content) - 2
	if at < 0 || binary.LittleEndian.Uint16(content[at:]) != 0 {
		return content
	}
	b := binary.LittleEndian.AppendUint16(bytes.Clone(content[:at]), uint16(markLength))
	return append(b, mark...)
}

func takeZIP(data []byte) ([]byte, string, bool) {
	at := len(data) - markLength - 2
	if at < zipEnd-2 || binary.LittleEndian.Uint16(data[at:]) != uint16(markLength) {
		return nil, "", false
	}
	return append(bytes.Clone(data[:at]), 0, 0), string(data[at+2:]), true
}
