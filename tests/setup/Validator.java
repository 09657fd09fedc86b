import java.io.BufferedReader;
import java.io.File;
import java.io.InputStreamReader;
import org.verapdf.gf.foundry.VeraGreenfieldFoundryProvider;
import org.verapdf.pdfa.Foundries;
import org.verapdf.pdfa.PDFAParser;
import org.verapdf.pdfa.flavours.PDFAFlavour;
import org.verapdf.pdfa.results.TestAssertion;
import org.verapdf.pdfa.results.ValidationResult;

/** Reads lines "flavour TAB path" and answers each with what fails, then with a line "end". */
public class Validator {
    public static void main(String[] arguments) throws Exception {
        VeraGreenfieldFoundryProvider.initialise();
        BufferedReader lines = new BufferedReader(new InputStreamReader(System.in, "UTF-8"));
        for (String line = lines.readLine(); line != null; line = lines.readLine()) {
            String[] asked = line.split("\t", 2);
            PDFAFlavour flavour = PDFAFlavour.byFlavourId(asked[0]);
            try (PDFAParser parser = Foundries.defaultInstance().createParser(new File(asked[1]), flavour)) {
                ValidationResult found = Foundries.defaultInstance().createValidator(flavour, false).validate(parser);
                for (TestAssertion each : found.getTestAssertions()) {
                    System.out.println("fails\t" + each.getRuleId().getClause() + "-" + each.getRuleId().getTestNumber()
                        + "\t" + each.getMessage().replaceAll("\\s+", " ") + "\t" + each.getLocation().getContext());
                }
                System.out.println(found.isCompliant() ? "compliant" : "not compliant");
            } catch (Exception error) {
                System.out.println("fails\tcannot be read\t" + error);
            }
            System.out.println("end");
        }
    }
}
