;;; ubr-tests.el --- A real Emacs on a copy of the example -*- lexical-binding: t; -*-

;;; Commentary:

;; Run by `run' beside this file, with the set-up of the README.  WORKS is the copy of the example, SERVER
;; the program as it stands in the list of processes, README the page of the set-up.

;;; Code:

(require 'ert)
(require 'cl-lib)
(require 'eglot)
(require 'flymake)
(require 'imenu)

(setq eglot-sync-connect 60
      eglot-events-buffer-size 0
      flymake-no-changes-timeout 0.05
      eglot-send-changes-idle-time 0.05
      make-backup-files nil
      create-lockfiles nil
      minibuffer-message-timeout 0)

;; Where it is installed, completion leaves places to fill in.
(when (require 'yasnippet nil t)
  (yas-global-mode 1))

(defun ubr-test-file (name)
  "Return the file NAME of the copied works."
  (expand-file-name name (getenv "WORKS")))

(defun ubr-test-wait (what holds)
  "Wait until HOLDS returns non-nil and return that; WHAT names it when it does not come.
Sixty seconds are a guard against hanging, no measure of speed."
  (let ((stop (+ (float-time) 60)) value)
    (while (and (not (setq value (funcall holds))) (< (float-time) stop))
      (accept-process-output nil 0.02)
      (when (bound-and-true-p eglot--managed-mode)
        (eglot--signal-textDocument/didChange)))
    (unless value
      (ert-fail (list 'waited-for what (ubr-test-found))))
    value))

(defun ubr-test-found ()
  "Return what Flymake shows in the buffer: line, text underlined, message."
  (mapcar (lambda (one)
            (list (line-number-at-pos (flymake-diagnostic-beg one))
                  (buffer-substring-no-properties (flymake-diagnostic-beg one) (flymake-diagnostic-end one))
                  (flymake-diagnostic-text one)))
          (flymake-diagnostics)))

(defun ubr-test-finding (words)
  "Return the finding with WORDS in its message, waiting for it."
  (ubr-test-wait words (lambda ()
                         (cl-find-if (lambda (one) (string-match-p (regexp-quote words) (nth 2 one)))
                                     (ubr-test-found)))))

(defun ubr-test-open (name)
  "Open the file NAME as a person does, and wait for its server."
  (switch-to-buffer (find-file-noselect (ubr-test-file name)))
  (run-hooks 'post-command-hook)
  (ubr-test-wait "the server" (lambda () (and eglot--managed-mode (eglot-current-server))))
  (flymake-start)
  (goto-char (point-min)))

(defun ubr-test-press (keys)
  "Press KEYS in the current buffer."
  (switch-to-buffer (current-buffer))
  (execute-kbd-macro (kbd keys)))

(defun ubr-test-face (text &optional inside)
  "Return the face of INSIDE, or of the beginning, in the next place of TEXT."
  (search-forward text)
  (goto-char (match-beginning 0))
  (when inside (search-forward inside) (goto-char (match-beginning 0)))
  (get-text-property (point) 'face))

(defun ubr-test-line ()
  "Return the text of the line of point."
  (buffer-substring-no-properties (line-beginning-position) (line-end-position)))

(defmacro ubr-test-with-text (text &rest body)
  "Run BODY in a buffer of `ubr-mode' that holds TEXT, without a server."
  (declare (indent 1))
  `(with-temp-buffer
     (insert ,text)
     (let ((ubr-mode-hook nil)) (ubr-mode))
     (font-lock-ensure)
     (goto-char (point-min))
     ,@body))

(defmacro ubr-test-with-file (name &rest body)
  "Run BODY in a buffer of `ubr-mode' that holds the file NAME, without a server."
  (declare (indent 1))
  `(ubr-test-with-text (with-temp-buffer (insert-file-contents (ubr-test-file ,name)) (buffer-string))
     ,@body))

;;; Without the server

(ert-deftest ubr-1-colours-of-a-record ()
  (ubr-test-with-file "units/KFT-0415-1.ubr"
    (should (eq (ubr-test-face "# Written") 'font-lock-comment-delimiter-face))
    (should (eq (ubr-test-face "unit KFT") 'font-lock-keyword-face))
    (should (eq (ubr-test-face "KFT-0415-1") 'font-lock-function-name-face))
    (should (eq (ubr-test-face "\"40 MVA") 'font-lock-string-face))
    (should (eq (ubr-test-face "plan   ") 'font-lock-keyword-face))
    (should (eq (ubr-test-face "by A.Brandt" "A.Brandt") 'font-lock-type-face))
    (should (eq (ubr-test-face "rated-power") 'font-lock-variable-name-face))
    (should (eq (ubr-test-face "40 MVA") 'ubr-number-face))
    (should (eq (ubr-test-face "MVA") 'ubr-unit-face))
    (should (eq (ubr-test-face "75 °C" "°C") 'ubr-unit-face))
    (should (eq (ubr-test-face "table") 'font-lock-keyword-face))
    (should (eq (ubr-test-face "winding  rated") 'font-lock-variable-name-face))
    (should (eq (ubr-test-face "kV") 'ubr-unit-face))
    (should (eq (ubr-test-face "ohm*mm^2/m") 'ubr-unit-face))
    (should (eq (ubr-test-face "stage winding") 'font-lock-keyword-face))
    (should (eq (ubr-test-face "on 2026") 'font-lock-keyword-face))
    (should (eq (ubr-test-face "2026-04-14") 'font-lock-constant-face))
    (should (eq (ubr-test-face "J.Lindqvist") 'font-lock-type-face))
    (should (eq (ubr-test-face "with TC-2") 'font-lock-builtin-face))
    (should (eq (ubr-test-face "TC-2") 'font-lock-type-face))
    (should (eq (ubr-test-face "inner-diameter(mm)" "mm") 'ubr-unit-face))
    (should (eq (ubr-test-face "release H10" "H10") 'font-lock-function-name-face))
    (should (eq (ubr-test-face "HV-LV   9   ?" "?") 'ubr-pending-face))))

(ert-deftest ubr-2-colours-of-a-plan-and-of-broken-lines ()
  (ubr-test-with-file "plan.ubr"
    (should (eq (ubr-test-face "plan kestrel-ford") 'font-lock-keyword-face))
    (should (eq (ubr-test-face "extends") 'font-lock-builtin-face))
    (should (eq (ubr-test-face "require") 'font-lock-keyword-face))
    (should (eq (ubr-test-face "0.2 %" "%") 'ubr-unit-face))
    (should (eq (ubr-test-face "reading joint-resistance" "joint") 'font-lock-variable-name-face))
    (should (eq (ubr-test-face ": ratio" "ratio") 'font-lock-type-face)))
  ;; `limit = …' is a limit in a plan and a value in a record; a text ends with its line.
  (ubr-test-with-text "plan a rev A\nstage s\n  reading x : length\n    limit = 3 mm and y\n"
    (should (eq (ubr-test-face "limit") 'font-lock-keyword-face))
    (should (eq (ubr-test-face "and y") 'font-lock-builtin-face)))
  (ubr-test-with-text "unit A-1\nstage s\n  limit = 3 mm\n  note \"open # no comment\n  next = 4 mm  # \"comment\n"
    (should (eq (ubr-test-face "limit") 'font-lock-variable-name-face))
    (should (eq (ubr-test-face "# no comment") 'font-lock-string-face))
    (should (eq (ubr-test-face "next") 'font-lock-variable-name-face))
    (should (eq (ubr-test-face "\"comment") 'font-lock-comment-face)))
  ;; A row that begins with a word of the language is a row.
  (ubr-test-with-text "unit A-1\nstage s\n  table  with TP-1\n    layer  height(mm)\n    seal   3\n    check  4\n"
    (should (eq (ubr-test-face "height") 'font-lock-variable-name-face))
    (should-not (eq (ubr-test-face "seal") 'font-lock-keyword-face))
    (should-not (eq (ubr-test-face "check") 'font-lock-keyword-face))))

(ert-deftest ubr-3-indentation ()
  (ubr-test-with-text ""
    (electric-indent-local-mode 1)
    (ubr-test-press "stage SPC winding RET on SPC 2026-04-14 RET table SPC turns RET winding SPC SPC U RET HV SPC 880 RET")
    (should (equal (buffer-string)
                   "stage winding\n  on 2026-04-14\n  table turns\n    winding  U\n    HV 880\n    "))
    (ubr-test-press "DEL")
    (should (= (current-column) 2))
    (ubr-test-press "x RET TAB")
    (should (= (current-column) 0))
    (ubr-test-press "TAB")
    (should (= (current-column) 2))
    (ubr-test-press "TAB TAB")
    (should (= (current-column) 4))
    ;; The rest of a broken line stays in its place.
    (ubr-test-press "a SPC b C-b C-b RET")
    (should (string-suffix-p "\n    a\n    b" (buffer-string))))
  ;; Nothing moves a line that stands well; a comment takes its `#'.
  (ubr-test-with-file "units/KFT-0412-1.ubr"
    (let ((before (buffer-string)))
      (indent-region (point-min) (point-max))
      (should (equal (buffer-string) before))
      (search-forward "table turns")
      (ubr-test-press "TAB")
      (should (equal (buffer-string) before))
      (comment-line 1)
      (forward-line -1)
      (should (equal (ubr-test-line) "  # table turns  with TC-2"))))
  ;; A pasted block is shifted as a whole.
  (ubr-test-with-text "stage s\n         table t\n           winding  U\n           HV  1\n"
    (indent-region 9 (point-max))
    (should (equal (buffer-string) "stage s\n  table t\n    winding  U\n    HV  1\n"))))

(ert-deftest ubr-4-index-and-outline ()
  (ubr-test-with-file "units/KFT-0415-1.ubr"
    (let ((index (imenu--make-index-alist t)))
      (should (assoc "connections" (cdr (assoc "Stages" index))))
      (should (assoc "H10" (cdr (assoc "Points" index)))))
    (outline-minor-mode 1)
    (search-forward "stage core")
    (outline-hide-subtree)
    (search-forward "steel-loss")
    (should (outline-invisible-p))
    (search-forward "stage core-and-winding-assembly")
    (should-not (outline-invisible-p))))

;;; With the server

(defconst ubr-test-record "units/KFT-0500-1.ubr")

(defun ubr-test-plant ()
  "Write a record with faults behind signs of every width; return its line number."
  (with-temp-buffer
    (insert-file-contents (ubr-test-file "units/KFT-0415-1.ubr"))
    (while (search-forward "KFT-0415-1" nil t) (replace-match "KFT-0500-1" t t))
    (goto-char (point-min))
    ;; A record of another name is not sealed.
    (flush-lines "^ *\\(?:seal\\|covers\\) ")
    (re-search-forward "^stage connections\n")
    (insert "  insulation-60s[HV-to-rest] = 4,2 Gohm  at 21 °C  with XX-99  # Ω😀\n"
            "  note \"Ω😀\" x\n")
    (let ((coding-system-for-write 'utf-8))
      (write-region nil nil (ubr-test-file ubr-test-record) nil 'silent))
    (- (line-number-at-pos) 2)))

(ert-deftest ubr-5-findings-and-what-to-do ()
  (let ((at (ubr-test-plant)))
    (ubr-test-open ubr-test-record)
    (should (eq major-mode 'ubr-mode))
    ;; Where they stand.
    (let ((unknown (ubr-test-finding "XX-99")))
      (should (equal (car unknown) at))
      (should (equal (nth 1 unknown) "XX-99")))
    (should (equal (seq-take (ubr-test-finding "4,2") 2) (list at "4,2")))
    (should (cl-find-if (lambda (one) (and (eql (car one) (1+ at)) (equal (nth 1 one) "x")))
                        (ubr-test-found)))
    ;; What a word means.
    (search-forward "insulation-60s")
    (goto-char (match-beginning 0))
    (let (page)
      (eglot-hover-eldoc-function (lambda (text &rest _) (setq page (or text ""))))
      (ubr-test-wait "the page under point" (lambda () page))
      (should (string-match-p "insulation-60s" page)))
    ;; A fix, applied.
    (search-forward "4,2")
    (goto-char (match-beginning 0))
    (cl-letf (((symbol-function 'completing-read)
               (lambda (_prompt choices &rest _)
                 (or (car (cl-find-if (lambda (one) (string-match-p "decimal point" (car one))) choices))
                     (ert-fail (list 'offered (mapcar #'car choices)))))))
      ;; A key, not the mouse, asks for it.
      (let ((last-nonmenu-event ?a))
        (call-interactively #'eglot-code-actions)))
    (should (equal (ubr-test-line) "  insulation-60s[HV-to-rest] = 4.2 Gohm  at 21 °C  with XX-99  # Ω😀"))
    (ubr-test-wait "the comma gone"
                   (lambda () (not (cl-find-if (lambda (one) (string-match-p "4,2" (nth 2 one))) (ubr-test-found)))))
    ;; Completion of a person whose role it is.
    (end-of-line)
    (ubr-test-press "RET release SPC H50 SPC by SPC M. TAB")
    (should (equal (ubr-test-line) "  release H50 by M.Okafor"))
    (delete-region (line-beginning-position) (1+ (line-end-position)))
    ;; What the idle timer does at a screen.
    (eglot--signal-textDocument/didChange)
    ;; Into the register and back.
    (search-forward "by L.Novak")
    (backward-char 3)
    (let ((from (point)))
      (call-interactively #'xref-find-definitions)
      (should (equal (buffer-name) "register.ubr"))
      (should (looking-at "L\\.Novak"))
      (should (string-prefix-p "person L.Novak" (ubr-test-line)))
      (xref-pop-marker-stack)
      (should (equal (point) from)))
    ;; What a built-in plan declares is not renamed, and the reason is told.
    (goto-char (point-min))
    (search-forward "insulation-60s")
    (goto-char (match-beginning 0))
    (let ((told (should-error (eglot-rename "other"))))
      (should (string-match-p "built-in plan" (format "%S" told))))
    ;; The index of the server.
    (should (string-match-p "connections" (format "%S" (imenu--make-index-alist t))))))

(ert-deftest ubr-6-an-unsaved-plan-judges-the-open-record ()
  (ubr-test-open ubr-test-record)
  (re-search-forward "^stage connections\n")
  (insert "  joint-resistance[HV, U] = 104 %  with MR-04  by L.Novak  on 2026-03-30\n")
  (let ((record (current-buffer)))
    (ubr-test-open "plan.ubr")
    (search-forward "limit <= 110 %")
    (replace-match "limit <= 1 %")
    (eglot--signal-textDocument/didChange)
    (switch-to-buffer record)
    (let ((found (ubr-test-finding "joint-resistance[HV, U] to be ≤ 1 %")))
      (should (equal (nth 1 found) "104 %")))))

(ert-deftest ubr-6-a-table-with-places-to-fill-in ()
  (skip-unless (featurep 'yasnippet))
  (ubr-test-open ubr-test-record)
  (re-search-forward "^stage connections\n")
  (insert "  joint-res\n")
  (backward-char)
  (eglot--signal-textDocument/didChange)
  ;; Chosen from the list.
  (pcase-let* ((`(,start ,end ,table . ,more) (eglot-completion-at-point))
               (chosen (cl-find-if (lambda (one) (string-prefix-p "table joint-resistance" one))
                                   (all-completions "" table))))
    (should chosen)
    (delete-region start end)
    (insert chosen)
    (funcall (plist-get more :exit-function) chosen 'finished))
  (ubr-test-press "101 TAB 102")
  (forward-line -2)
  (should (looking-at (concat "  table joint-resistance(%)\n    winding  U  V  W\n"
                              "    HV       101  102  \\?\n    LV       \\?  \\?  \\?\n"))))

(ert-deftest ubr-6-settings ()
  (ubr-test-open ubr-test-record)
  (ubr-test-finding "still to be recorded")
  (let ((eglot-workspace-configuration '((:stagebook . (:pending :json-false)))))
    (eglot-signal-didChangeConfiguration (eglot-current-server))
    (ubr-test-wait "the end of what is pending"
                   (lambda ()
                     (let ((found (mapconcat (lambda (one) (nth 2 one)) (ubr-test-found) "\n")))
                       (and (string-match-p "XX-99" found)
                            (not (string-match-p "still to be recorded" found))))))))

(ert-deftest ubr-7-layout ()
  (ubr-test-open ubr-test-record)
  (search-forward "  joint-resistance[HV, U] = 104 %")
  (replace-match "  joint-resistance[HV, U]   =   104 %")
  (eglot-format-buffer)
  (goto-char (point-min))
  (should (search-forward "\n  joint-resistance[HV, U] = 104 %" nil t)))

(ert-deftest ubr-7-layout-while-typing ()
  (ubr-test-open ubr-test-record)
  (re-search-forward "^stage connections\n")
  (insert "  table joint-resistance(%)\n    winding  U    V    W\n    HV       101  102  103\n    \n")
  (backward-char)
  (ubr-test-press "t e r t i a r y SPC SPC 1 0 4 SPC SPC 1 0 5")
  (forward-line -2)
  (should (looking-at (concat "    winding   U    V    W\n"
                              "    HV        101  102  103\n"
                              "    tertiary  104  105\n"))))

(ert-deftest ubr-9-layout-when-saved ()
  (let ((eglot-managed-mode-hook eglot-managed-mode-hook))
    ;; The lines as they stand in the README.
    (with-temp-buffer
      (insert-file-contents (getenv "README"))
      (search-forward "(add-hook 'eglot-managed-mode-hook")
      (goto-char (match-beginning 0))
      (eval (read (current-buffer)) t))
    (let ((copy (ubr-test-file "units/KFT-0500-7.ubr")))
      (copy-file (ubr-test-file ubr-test-record) copy t)
      (ubr-test-open "units/KFT-0500-7.ubr")
      (re-search-forward "^stage connections\n")
      (insert "  joint-resistance[HV, U]   =   104 %  with MR-04\n")
      (save-buffer)
      (with-temp-buffer
        (insert-file-contents copy)
        (should (search-forward "\n  joint-resistance[HV, U] = 104 %  with MR-04\n" nil t)))
      ;; Without the server a document is saved all the same.
      (eglot-shutdown (eglot-current-server))
      (goto-char (point-max))
      (insert "# the   end\n")
      (save-buffer)
      (should-not (buffer-modified-p))
      (delete-file copy))))

(ert-deftest ubr-8-nothing-is-left-behind ()
  (ubr-test-open ubr-test-record)
  (let* ((server (eglot-current-server))
         (running (lambda ()
                    (cl-find-if (lambda (process)
                                  (equal (alist-get 'args (process-attributes process))
                                         (concat (getenv "SERVER") " lsp")))
                                (list-system-processes)))))
    (should (funcall running))
    (eglot-shutdown server)
    (ubr-test-wait "the end of the server" (lambda () (not (funcall running))))))

(provide 'ubr-tests)
;;; ubr-tests.el ends here
