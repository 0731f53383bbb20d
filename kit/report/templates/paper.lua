-- From the page's HTML to paper: what each class means in Word and in the PDF, tables above all.
local word = FORMAT:match("docx") ~= nil
local paper = FORMAT:match("typst") ~= nil

local STYLES = {
  kicker = "Kicker", said = "Question", verdict = "Verdict", danger = "Danger", small = "Small",
  notes = "Small", cautions = "Cautions", invented = "Small", lead = "Lead", who = "Small",
}
local ORDER = { "verdict", "danger", "kicker", "said", "notes", "cautions", "small", "invented", "lead", "who" }

local function wrapped(kind, blocks)
  if word then
    return pandoc.Div(blocks, { ["custom-style"] = STYLES[kind] })
  end
  local out = pandoc.Blocks({ pandoc.RawBlock("typst", "#" .. kind .. "[") })
  out:extend(blocks)
  out:insert(pandoc.RawBlock("typst", "]"))
  return out
end

-- The notes under a table: one paragraph, a line a note.
local function note_lines(blocks)
  local line = pandoc.Inlines({})
  for _, block in ipairs(blocks) do
    if block.t == "BulletList" then
      for _, item in ipairs(block.content) do
        if #line > 0 then line:insert(pandoc.LineBreak()) end
        line:extend(pandoc.utils.blocks_to_inlines(item))
      end
    end
  end
  return pandoc.Blocks({ pandoc.Para(line) })
end

-- On one page the cautions stand in two columns of equal count.
local function in_halves(blocks)
  local items = blocks[1].content
  local middle = math.ceil(#items / 2)
  local function run(from, to) return pandoc.BulletList({ table.unpack(items, from, to) }) end
  return pandoc.Blocks({
    pandoc.RawBlock("typst", "#twocolumns["), run(1, middle),
    pandoc.RawBlock("typst", "]["), run(middle + 1, #items), pandoc.RawBlock("typst", "]"),
  })
end

function Div(div)
  for _, kind in ipairs(ORDER) do
    if div.classes:includes(kind) then
      local blocks = kind == "notes" and note_lines(div.content) or div.content
      if kind == "cautions" and paper and PANDOC_WRITER_OPTIONS.variables.brief then
        return in_halves(blocks)
      end
      return wrapped(kind, blocks)
    end
  end
  return div.content
end

-- A word too long for any line may break; hashes and file names stay as they are.
function Str(str)
  local length = utf8.len(str.text) or 0
  if length <= 70 then return nil end
  local out = {}
  for from = 1, length, 20 do
    local last = utf8.offset(str.text, from + 20) or #str.text + 1
    out[#out + 1] = str.text:sub(utf8.offset(str.text, from), last - 1)
  end
  return pandoc.Str(table.concat(out, "\u{200B}"))
end

function Header(header)
  if header.level == 1 then
    if word then return {} end -- the file's own title stands at its head
    local out = pandoc.Inlines({ pandoc.RawInline("typst", "#memotitle[") })
    out:extend(header.content)
    out:insert(pandoc.RawInline("typst", "]"))
    return pandoc.Para(out)
  end
  header.level = header.level - 1
  return header
end

local function words_of(cell)
  return pandoc.utils.stringify(cell.contents)
end

local function longest_word(text)
  local most = 0
  for piece in text:gmatch("%S+") do most = math.max(most, utf8.len(piece) or #piece) end
  return most
end

local function each_row(tbl, visit)
  for _, row in ipairs(tbl.head.rows) do visit(row, true) end
  for _, body in ipairs(tbl.bodies) do
    for _, row in ipairs(body.head) do visit(row, false) end
    for _, row in ipairs(body.body) do visit(row, false) end
  end
end

-- Shares of the text's width: what the longest line asks for, never less than the longest word.
local function widths(tbl, chars)
  local want, least, count = {}, {}, #tbl.colspecs
  for i = 1, count do want[i], least[i] = 3, 3 end
  each_row(tbl, function(row)
    if #row.cells ~= count then return end
    for i, cell in ipairs(row.cells) do
      local text = words_of(cell)
      want[i] = math.max(want[i], math.min(utf8.len(text) or #text, 60) + 2)
      local whole = i == 1 and (utf8.len(text) or #text) or longest_word(text)
      least[i] = math.max(least[i], math.min(whole, 22) + 2)
    end
  end)
  local wanted, needed = 0, 0
  for i = 1, count do wanted, needed = wanted + want[i], needed + least[i] end
  local out = {}
  for i = 1, count do
    if wanted <= chars then out[i] = want[i] / chars
    elseif needed >= chars then out[i] = least[i] / needed
    else out[i] = (least[i] + (want[i] - least[i]) * (chars - needed) / (wanted - needed)) / chars end
  end
  return out
end

local function strong(cell)
  cell.contents = cell.contents:walk({
    Plain = function(p) return pandoc.Plain({ pandoc.Strong(p.content) }) end,
    Para = function(p) return pandoc.Para({ pandoc.Strong(p.content) }) end,
  })
end

function Table(tbl)
  local pairs_of_charts = tbl.attr.classes:includes("pairs")
  local count = #tbl.colspecs
  local small = count > 8
  local share = pairs_of_charts and { 0.5, 0.5 } or widths(tbl, small and 128 or 104)
  local texts = {}
  for _, row in ipairs(tbl.head.rows) do
    for i, cell in ipairs(row.cells) do texts[i] = cell.attr.classes:includes("text") end
  end
  for i = 1, count do
    local left = i == 1 or texts[i] or pairs_of_charts or tbl.attr.classes:includes("cover")
    tbl.colspecs[i] = { left and pandoc.AlignLeft or pandoc.AlignRight, share[i] }
  end
  local rows = 0
  each_row(tbl, function(row, head)
    rows = rows + 1
    local group = #row.cells == 1 and row.cells[1].col_span > 1
    for _, cell in ipairs(row.cells) do
      local kinds = cell.attr.classes
      if head or group or kinds:includes("no") or kinds:includes("total") then strong(cell) end
      cell.attr = pandoc.Attr()
      if word and not pairs_of_charts then
        local style = small and "Table figure small" or "Table figure"
        -- a plain line in a cell would keep the writer's own style: only a paragraph takes ours
        local paragraphs = cell.contents:walk({ Plain = function(p) return pandoc.Para(p.content) end })
        cell.contents = { pandoc.Div(paragraphs, { ["custom-style"] = style }) }
      end
    end
  end)
  if word then return tbl end
  local size = pairs_of_charts and "#plainpairs[" or small and "#smalltable[" or "#tablesize["
  local whole = rows <= 17 and not pairs_of_charts
  if whole then size = size .. "#whole[" end
  return { pandoc.RawBlock("typst", size), tbl, pandoc.RawBlock("typst", whole and "]]" or "]") }
end
