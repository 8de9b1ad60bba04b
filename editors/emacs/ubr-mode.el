;;; ubr-mode.el --- Build records of power transformers -*- lexical-binding: t; -*-

;; Package-Requires: ((emacs "27.1"))
;; Keywords: languages

;;; Commentary:

;; Colours, comments, indentation, outline and index of build records, plans and registers (files
;; that end in .ubr), and the language server `stagebook lsp' for Eglot.  See README.md.

;;; Code:

(require 'outline)

(defvar eglot-server-programs)
(defvar electric-indent-inhibit)
(defvar yas-indent-line)

(defgroup ubr nil
  "Build records, inspection plans and registers."
  :group 'languages)

(defcustom ubr-server-program "stagebook"
  "The program whose `lsp' serves build records: a name on the path or a file name."
  :type 'string)

(defface ubr-number-face '((t :inherit font-lock-constant-face))
  "Face of numbers.")

(defface ubr-unit-face '((t :inherit font-lock-type-face))
  "Face of units of measure.")

(defface ubr-pending-face '((t :inherit font-lock-preprocessor-face))
  "Face of `?', a reading still to be taken.")

;;; Words of the language

(eval-and-compile
  (defconst ubr--name
    "\\(?:[0-9]+-\\)*[0-9]*[[:alpha:]_][[:alnum:]_]*\\(?:-[[:alnum:]_]+\\)*"
    "Matches a name: letters, digits and inner hyphens, with at least one letter.")

  (defconst ubr--path (concat ubr--name "\\(?:\\." ubr--name "\\)*")
    "Matches names with dots between them.")

  (defconst ubr--sections
    '("plan" "register" "unit" "design" "stage" "nonconformity" "add" "tighten" "relax" "person"
      "instrument")
    "Words of the statements that have others below them.")

  (defconst ubr--details
    '("accept" "accuracy" "after" "against" "agreed" "amend" "at" "attach" "because" "by" "calc"
      "calibrated" "causes" "caution" "check" "closed" "column" "compare" "concessions" "covers"
      "decide" "disposition" "drop" "found" "hold" "independent" "key" "limit" "log" "look" "lot"
      "may" "measures" "need" "note" "notified" "on" "range" "reading" "release" "require" "retired"
      "review" "reviewed" "role" "roles" "seal" "sealed" "set" "severity" "signature" "source"
      "table" "title" "uncertainty" "uncertainty-ratio" "valid" "waived" "when" "with" "witness"
      "witnessed" "zone")
    "The other words that a statement may begin with.")

  (defconst ubr--clauses
    '("at" "because" "beyond" "by" "certificate" "due" "extends" "floor" "for" "from" "given"
      "memory" "notice" "of" "on" "other" "over" "rev" "round" "than" "type-tested" "was" "with")
    "Words within a statement.")

  (defconst ubr--operators '("and" "else" "if" "in" "not" "or" "then")
    "Words of expressions."))

(defun ubr--regexp-words (words)
  "Return a regexp that matches one of WORDS, as group 1."
  (concat "\\_<" (regexp-opt words t) "\\_>"))

;;; Which document, which place

(defvar-local ubr--document nil
  "The tick of the buffer and whether it holds a plan, from the last look at it.")

(defun ubr--plan-p ()
  "Return non-nil if the first statement of the buffer is that of a plan."
  (let ((tick (buffer-chars-modified-tick)))
    (unless (eql (car ubr--document) tick)
      (setq ubr--document
            (cons tick
                  (save-excursion
                    (save-restriction
                      (widen)
                      (goto-char (point-min))
                      (save-match-data
                        (forward-comment (buffer-size))
                        (looking-at-p "plan\\_>")))))))
    (cdr ubr--document)))

(defun ubr--table-line-p ()
  "Return non-nil if the line of point begins a table or a log with rows."
  (save-excursion
    (beginning-of-line)
    (looking-at-p "[ \t]*\\(?:table\\|log\\)\\_>[ \t]*[^=[ \t]\\|[ \t]*\\(?:table\\|log\\)[ \t]*$")))

(defun ubr--forward-blank-lines (step)
  "Go by STEP lines (1 or -1) to the next statement; nil if there is none."
  (let (found)
    (while (and (not found) (zerop (forward-line step)) (not (and (> step 0) (eobp))))
      (setq found (not (looking-at-p "[ \t]*\\(?:#\\|$\\)"))))
    found))

(defun ubr--parent-is-table-p ()
  "Return non-nil if the line of point is a row: it stands below a table."
  (unless (ubr--plan-p)
    (save-excursion
      (let ((own (current-indentation)))
        (beginning-of-line)
        (and (> own 0)
             (let (found)
               (while (and (not found) (ubr--forward-blank-lines -1))
                 (setq found (< (current-indentation) own)))
               (and found (ubr--table-line-p))))))))

(defun ubr--header-p ()
  "Return non-nil if the line of point is the header row of a table."
  (unless (or (ubr--plan-p)
              (looking-at-p "[ \t]*\\(?:accept\\|attach\\|column\\|note\\)\\_>"))
    (let ((own (current-indentation)))
      (save-excursion
        (and (ubr--forward-blank-lines -1)
             (< (current-indentation) own)
             (ubr--table-line-p))))))

;;; Colours

(defun ubr--statement-regexp (words)
  "Return a regexp of a line that begins with one of WORDS, and the path behind it."
  (concat "^[ \t]*" (ubr--regexp-words words) "\\(?:[ \t]+\\(" ubr--path "\\)\\)?"))

(defconst ubr--section-regexp (ubr--statement-regexp ubr--sections))
(defconst ubr--detail-regexp (ubr--statement-regexp ubr--details))

(defun ubr--match-statement (regexp limit)
  "Find the next line that matches REGEXP and is a statement, before LIMIT.
Group 1 is the word, group 2 the path behind it, if there is one."
  (let (found)
    (while (and (not found) (re-search-forward regexp limit t))
      (setq found (save-match-data
                    (not (or (and (not (ubr--plan-p))
                                  (save-excursion
                                    (goto-char (match-end 1))
                                    (looking-at-p "[ \t]*[=[]")))
                             (save-excursion
                               (beginning-of-line)
                               (ubr--parent-is-table-p)))))))
    found))

(defun ubr--match-section (limit)
  "Find the next statement with others below it, before LIMIT."
  (ubr--match-statement ubr--section-regexp limit))

(defun ubr--match-detail (limit)
  "Find the next statement that is no section, before LIMIT."
  (ubr--match-statement ubr--detail-regexp limit))

(defun ubr--match-value (limit)
  "Find the next recorded value, `name = ...', before LIMIT.  Group 1 is the name."
  (and (not (ubr--plan-p))
       (re-search-forward (concat "^[ \t]*\\(" ubr--name "\\)[ \t]*[=[]") limit t)))

(defun ubr--match-header (limit)
  "Find the next header row of a table, before LIMIT.  Group 1 is the row."
  (let (found)
    (while (and (not found) (re-search-forward "^[ \t]+\\([^ \t\n#].*\\)$" limit t))
      (setq found (save-match-data
                    (save-excursion
                      (beginning-of-line)
                      (ubr--header-p)))))
    found))

(defun ubr--name-face (word)
  "Return the face of the name behind the statement WORD."
  (cond ((member word '("person" "instrument" "by" "with")) 'font-lock-type-face)
        ((member word ubr--sections) 'font-lock-function-name-face)
        ((member word '("release" "witnessed" "waived" "reviewed" "notified" "hold" "witness" "review"))
         'font-lock-function-name-face)
        ((member word '("accept" "disposition" "severity" "decide")) 'font-lock-constant-face)
        ((member word '("amend" "reading" "column" "calc" "check" "need" "may" "log" "drop" "against"
                        "set"))
         'font-lock-variable-name-face)
        ((and (equal word "table") (not (member (match-string 2) '("at" "with" "by" "on" "because"))))
         'font-lock-variable-name-face)))

(defconst ubr--font-lock-keywords
  (let ((unit (concat "\\(?:dB(A)\\|%\\|°[CF]\\|" ubr--name "\\)\\(?:\\^[-−]?[0-9]+\\)?"))
        (words (concat (regexp-opt (append ubr--clauses ubr--operators)) "\\_>")))
    `((ubr--match-section (1 font-lock-keyword-face)
                          (2 (ubr--name-face (match-string 1)) nil t))
      (ubr--match-detail (1 font-lock-keyword-face)
                         (2 (ubr--name-face (match-string 1)) nil t))
      (ubr--match-value (1 font-lock-variable-name-face))
      (ubr--match-header
       (,(concat "\\_<\\(" ubr--name "\\)\\(?:(\\(\\(?:dB(A)\\|[^() \t\n]\\)*\\))\\)?")
        (progn (goto-char (match-beginning 1)) (line-end-position)) nil
        (1 font-lock-variable-name-face) (2 'ubr-unit-face nil t)))
      ;; A person, an instrument.
      (,(concat "\\_<\\(by\\|with\\)[ \t]+\\(" ubr--path "\\)")
       (1 font-lock-builtin-face) (2 font-lock-type-face))
      ;; The kind of what a plan declares.
      (,(concat ":[ \t]*\\(" ubr--name "\\)") (1 font-lock-type-face))
      ;; A function.
      (,(concat "\\_<\\(" ubr--name "\\)(") (1 font-lock-builtin-face))
      ;; The unit of a table's only quantity.
      (,(concat "^[ \t]*\\(?:table\\|log\\)[ \t]+" ubr--name "(\\(\\(?:dB(A)\\|[^() \t\n]\\)*\\))")
       (1 'ubr-unit-face t))
      (,(ubr--regexp-words ubr--clauses) (1 font-lock-builtin-face))
      (,(ubr--regexp-words ubr--operators) (1 font-lock-builtin-face))
      ;; Dates and times before numbers.
      ("\\_<[0-9]\\{4\\}-[0-9]\\{2\\}-[0-9]\\{2\\}\\_>\\|\\_<[0-9]\\{1,2\\}:[0-9]\\{2\\}\\(?::[0-9]\\{2\\}\\)?\\_>"
       (0 font-lock-constant-face))
      ;; A number and its unit, one space before it.
      (,(concat "\\(?:^\\|[^[:alnum:]_.-]\\)\\([-−]?[0-9]+\\(?:\\.[0-9]+\\)?\\(?:[eE][-+]?[0-9]+\\)?\\)"
                "\\(?: \\(" unit "\\(?:[*·×/]" unit "\\)*\\)\\|\\(%\\)\\)?")
       (1 'ubr-number-face)
       (2 (unless (string-match-p ,(concat "\\`" words) (match-string 2)) 'ubr-unit-face) nil t)
       (3 'ubr-unit-face nil t))
      ("\\_<\\(?:yes\\|no\\|nothing\\)\\_>\\|\\_<n/a\\_>" (0 font-lock-constant-face))
      ("?" (0 'ubr-pending-face))))
  "What is coloured besides texts and comments.")

(defvar ubr-mode-syntax-table
  (let ((table (make-syntax-table)))
    (modify-syntax-entry ?# "<" table)
    (modify-syntax-entry ?\n ">" table)
    (modify-syntax-entry ?\" "\"" table)
    (modify-syntax-entry ?\\ "\\" table)
    (modify-syntax-entry ?- "_" table)
    (modify-syntax-entry ?_ "_" table)
    ;; `L.Novak' is one word, to look up and to complete.
    (modify-syntax-entry ?. "_" table)
    (dolist (sign '(?% ?+ ?* ?/ ?< ?> ?= ?& ?| ?' ?° ?· ?× ?± ?−))
      (modify-syntax-entry sign "." table))
    table)
  "Syntax table of `ubr-mode'.")

(defun ubr--syntax-propertize (start end)
  "End a text that is not closed at the end of its line, between START and END."
  (goto-char start)
  (while (re-search-forward "[#\"]" end t)
    (if (eq (char-before) ?#)
        (end-of-line)
      (let ((open (1- (point))))
        (if (looking-at "\\(?:[^\"\\\\\n]\\|\\\\.\\)*\"")
            (goto-char (match-end 0))
          (end-of-line)
          (put-text-property open (1+ open) 'syntax-table (string-to-syntax "|"))
          (unless (eobp)
            (put-text-property (point) (1+ (point)) 'syntax-table (string-to-syntax "|"))))))))

;;; Indentation

;; Indentation carries the meaning, so that no command may guess at a line that stands well: TAB goes
;; through the levels that are possible, and a region is only shifted as a whole.

(defconst ubr--opens-regexp (ubr--regexp-words (cons "table" ubr--sections)))
(defconst ubr--opens-in-plan-regexp
  (ubr--regexp-words (append ubr--sections '("table" "log" "reading" "check" "calc"))))

(defun ubr--opens-p ()
  "Return non-nil if others are expected below the statement in the line of point."
  (save-excursion
    (back-to-indentation)
    (or (and (looking-at (if (ubr--plan-p) ubr--opens-in-plan-regexp ubr--opens-regexp))
             (save-excursion
               (goto-char (match-end 0))
               (not (looking-at-p "[ \t]*[=[]")))
             ;; Below the first line of a document stands `plan kestrel-ford rev C' as a detail.
             (or (zerop (current-indentation)) (not (looking-at-p "\\(?:plan\\|register\\|unit\\)\\_>"))))
        (looking-at-p ".*\\(?:[-,(+*/=·×]\\|\\_<\\(?:and\\|or\\|not\\|then\\|else\\)\\)[ \t]*\\(?:#.*\\)?$"))))

(defun ubr--levels ()
  "Return the indentations that the line of point may have, the best one first."
  (save-excursion
    (beginning-of-line)
    (if (not (ubr--forward-blank-lines -1))
        '(0)
      (let* ((above (current-indentation))
             (deeper (* 2 (1+ (/ above 2))))
             (opens (ubr--opens-p))
             (level (if opens deeper above))
             (levels (list level)))
        (setq level (* 2 (/ (1- level) 2)))
        (while (>= level 0)
          (push level levels)
          (setq level (- level 2)))
        (unless opens (push deeper levels))
        (nreverse levels)))))

(defun ubr-indent-line ()
  "Indent the line: an empty one to the best level, then to the next one possible.
A line of text goes through the levels from its indentation only, so that it
stays where it stands well while point is in its text."
  (interactive)
  (let* ((levels (ubr--levels))
         (now (current-indentation))
         (rest (member now levels))
         (inside (> (current-column) now))
         (empty (save-excursion (beginning-of-line) (looking-at-p "[ \t]*$")))
         (asked (memq this-command '(indent-for-tab-command ubr-indent-line)))
         (again (and asked (eq this-command last-command)))
         (target (cond ((or (not rest)
                            (and empty (not again) (/= now (car levels)))
                            ;; The rest of a line that was broken.
                            (memq this-command '(newline newline-and-indent
                                                 electric-newline-and-maybe-indent)))
                        (car levels))
                       ((and asked (not inside)) (or (cadr rest) (car levels)))
                       (t now))))
    (if inside
        (save-excursion (indent-line-to target))
      (indent-line-to target))))

(defun ubr-indent-region (start end)
  "Shift the lines from START to END if the first one stands where none can.
They move as a whole."
  (save-excursion
    (goto-char start)
    (skip-chars-forward " \t\n")
    (beginning-of-line)
    (let ((levels (ubr--levels)) (now (current-indentation)))
      (unless (member now levels)
        (indent-rigidly (point) end (- (car levels) now))))))

(defun ubr-dedent ()
  "Take one level, two blanks, from the indentation of the line."
  (interactive)
  (let ((level (* 2 (/ (1- (current-indentation)) 2))))
    (if (> (current-column) (current-indentation))
        (save-excursion (indent-line-to (max 0 level)))
      (indent-line-to (max 0 level)))))

(defun ubr--in-indentation (command)
  "Return COMMAND if point stands behind blanks alone and no region is active."
  (and (not (use-region-p))
       (> (current-column) 0)
       (save-excursion (skip-chars-backward " \t") (bolp))
       command))

(defvar ubr-mode-map
  (let ((map (make-sparse-keymap)))
    (define-key map (kbd "<backtab>") #'ubr-dedent)
    (define-key map (kbd "DEL") '(menu-item "" ubr-dedent :filter ubr--in-indentation))
    map)
  "Keys of `ubr-mode'.")

;;; Index and outline

(defconst ubr--imenu
  (mapcar (lambda (kind)
            (list (car kind) (concat "^[ \t]*" (cdr kind) "[ \t]+\\(" ubr--path "\\)") 1))
          '(("Stages" . "\\(?:add[ \t]+\\)?stage")
            ("Readings" . "\\(?:reading\\|table\\|log\\)")
            ("Checks" . "\\(?:check\\|calc\\)")
            ("Points" . "\\(?:hold\\|witness\\|review\\|release\\|witnessed\\|waived\\|reviewed\\)")
            ("Nonconformities" . "nonconformity")
            ("People" . "person")
            ("Instruments" . "instrument")))
  "The index without a server.")

(defun ubr--outline-level ()
  "Return the level of the heading at point: the deeper, the higher."
  (1+ (/ (current-indentation) 2)))

;;; The mode

;;;###autoload
(define-derived-mode ubr-mode prog-mode "UBR"
  "Major mode for build records of transformers, plans and registers."
  (setq-local comment-start "# ")
  (setq-local comment-start-skip "#+[ \t]*")
  (setq-local comment-end "")
  (setq-local indent-tabs-mode nil)
  (setq-local tab-width 2)
  (setq-local indent-line-function #'ubr-indent-line)
  (setq-local indent-region-function #'ubr-indent-region)
  (setq-local electric-indent-inhibit t)
  ;; The lines of a table that the server writes stand below its first one as they are.
  (setq-local yas-indent-line 'fixed)
  (setq-local require-final-newline t)
  (setq-local truncate-lines t)
  (setq-local syntax-propertize-function #'ubr--syntax-propertize)
  (setq-local font-lock-defaults '(ubr--font-lock-keywords))
  (setq-local imenu-generic-expression ubr--imenu)
  (setq-local outline-regexp
              (concat "[ \t]*" (regexp-opt (append ubr--sections '("check" "hold" "log" "reading" "table")))
                      "\\_>"))
  (setq-local outline-level #'ubr--outline-level))

;;;###autoload
(add-to-list 'auto-mode-alist '("\\.ubr\\'" . ubr-mode))

(defun ubr--server (&rest _)
  "Return the command that starts the language server."
  (list ubr-server-program "lsp"))

(with-eval-after-load 'eglot
  (add-to-list 'eglot-server-programs '(ubr-mode . ubr--server)))

(provide 'ubr-mode)
;;; ubr-mode.el ends here
