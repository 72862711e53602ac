// Asks the Preflight of Apache PDFBox whether files follow ISO 19005-1 (PDF/A-1). Prints for each file its name and
// what is wrong; ends with 1 if anything is. Run by tests/paper.rs; needs the jars of Debian's libpdfbox2-java.

import java.io.File;
import org.apache.pdfbox.preflight.PreflightDocument;
import org.apache.pdfbox.preflight.ValidationResult;
import org.apache.pdfbox.preflight.ValidationResult.ValidationError;
import org.apache.pdfbox.preflight.exception.SyntaxValidationException;
import org.apache.pdfbox.preflight.parser.PreflightParser;

public class Archive {
    public static void main(String[] files) throws Exception {
        boolean sound = true;
        for (String name : files) {
            ValidationResult result = check(new File(name));
            System.out.println(name + ": " + (result.isValid() ? "valid" : "not valid"));
            for (ValidationError error : result.getErrorsList()) {
                System.out.println("  " + error.getErrorCode() + " " + error.getDetails());
            }
            sound &= result.isValid();
        }
        System.exit(sound ? 0 : 1);
    }

    static ValidationResult check(File file) throws Exception {
        PreflightParser parser = new PreflightParser(file);
        try {
            parser.parse();
            try (PreflightDocument document = parser.getPreflightDocument()) {
                document.validate();
                return document.getResult();
            }
        } catch (SyntaxValidationException error) {
            return error.getResult();
        }
    }
}
