// Runs the TextMate grammar over texts and prints what it finds as JSON. The request comes on standard input:
// { grammar: PATH, what: "scopes" | "statement words", texts: [TEXT, …] }
'use strict';
const fs = require('fs');
const textmate = require('vscode-textmate');
const oniguruma = require('vscode-oniguruma');

// All tokens of a line with their scopes.
const scopes = tokens => tokens.map(token => [token.startIndex, token.endIndex, token.scopes]);

// Where the statement word of a line stands, and whether the line begins with the name of a reading.
function beginning(tokens, line) {
  const words = tokens.filter(token => token.scopes.some(scope => scope.startsWith('keyword.control.')));
  const first = tokens.find(token => line.slice(token.startIndex, token.endIndex).trim() !== '');
  if (words.length > 1) return { word: [words[0].startIndex, words[words.length - 1].endIndex], reading: false };
  return {
    word: words.length ? [words[0].startIndex, words[0].endIndex] : null,
    reading: first !== undefined && first.scopes.includes('variable.other.reading.ubr'),
  };
}

async function main() {
  const request = JSON.parse(fs.readFileSync(0, 'utf8'));
  const wasm = fs.readFileSync(require.resolve('vscode-oniguruma/release/onig.wasm'));
  await oniguruma.loadWASM(wasm.buffer.slice(wasm.byteOffset, wasm.byteOffset + wasm.byteLength));
  const registry = new textmate.Registry({
    onigLib: Promise.resolve({
      createOnigScanner: patterns => new oniguruma.OnigScanner(patterns),
      createOnigString: text => new oniguruma.OnigString(text),
    }),
    loadGrammar: async () => textmate.parseRawGrammar(fs.readFileSync(request.grammar, 'utf8'), request.grammar),
  });
  const grammar = await registry.loadGrammar('source.ubr');
  const show = request.what === 'scopes' ? scopes : beginning;
  const answer = request.texts.map(text => {
    let stack = textmate.INITIAL;
    return text.split(/\r\n|\n|\r/).map(line => {
      const result = grammar.tokenizeLine(line, stack);
      stack = result.ruleStack;
      return show(result.tokens, line);
    });
  });
  process.stdout.write(JSON.stringify(answer));
}

main().catch(error => {
  console.error(error);
  process.exit(1);
});
